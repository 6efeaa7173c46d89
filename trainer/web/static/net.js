// Talking to the server: what fails because it is gone is told apart from what it refuses.

/** The server did not answer. */
export class Gone extends Error {}

/** The server refused; the message is fit to show. */
export class Refused extends Error {
  /** @param {number} status @param {string} message @param {any} data */
  constructor(status, message, data) {
    super(message);
    this.status = status;
    this.data = data;
  }
}

const PATIENCE_MS = 15000;
const PING_MS = 1500;

/** Events "gone" and "back". */
export const line = new EventTarget();
let isGone = false;

/** Whether the server did not answer the last time. */
export const isLost = () => isGone;

/**
 * Ask the server. Throws Gone or Refused; an abort of `init.signal` throws as fetch does.
 * @param {string} url @param {RequestInit} [init] @returns {Promise<Response>}
 */
export async function ask(url, init = {}) {
  const late = AbortSignal.timeout(PATIENCE_MS);
  const signal = init.signal ? AbortSignal.any([init.signal, late]) : late;
  let answer;
  try {
    answer = await fetch(url, { ...init, signal, headers: { Accept: "application/json", ...init.headers } });
  } catch (error) {
    if (init.signal?.aborted) throw error;
    lost();
    throw new Gone("The server does not answer.");
  }
  found();
  if (answer.ok) return answer;
  const data = await answer.json().catch(() => ({}));
  throw new Refused(answer.status, data.error ?? `The server said ${answer.status}.`, data);
}

function lost() {
  if (isGone) return;
  isGone = true;
  line.dispatchEvent(new Event("gone"));
  setTimeout(ping, PING_MS);
}

function found() {
  if (!isGone) return;
  isGone = false;
  line.dispatchEvent(new Event("back"));
}

async function ping() {
  try {
    await fetch("/alive", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
    found();
  } catch {
    setTimeout(ping, PING_MS);
  }
}
