// Requests to the server: one that gets no answer is told apart from one that is refused.

/** The server did not answer. */
export class Unreachable extends Error {}

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
const UNAVAILABLE = 503;

/** Events "onLost" and "restored". */
export const connection = new EventTarget();
let isDown = false;

/** Whether the server did not answer the last time. */
export const isUnreachable = () => isDown;

/**
 * Ask the server. Throws Unreachable or Refused; an abort of `init.signal` throws as fetch does.
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
    onLost();
    throw new Unreachable("The server isn't answering.");
  }
  if (isForLater(answer)) {
    onLost();
    throw new Unreachable("The server isn't answering.");
  }
  onAnswer();
  if (answer.ok) return answer;
  const data = await answer.json().catch(() => ({}));
  throw new Refused(answer.status, data.error ?? `The server said ${answer.status}.`, data);
}

/** Whether the server is there but can't read or write the record now, and says to ask again.
 * @param {Response} answer */
function isForLater(answer) {
  return answer.status === UNAVAILABLE && answer.headers.has("Retry-After");
}

function onLost() {
  if (isDown) return;
  isDown = true;
  connection.dispatchEvent(new Event("lost"));
  setTimeout(ping, PING_MS);
}

function onAnswer() {
  if (!isDown) return;
  isDown = false;
  connection.dispatchEvent(new Event("restored"));
}

async function ping() {
  try {
    await fetch("/alive", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_MS) });
    onAnswer();
  } catch {
    setTimeout(ping, PING_MS);
  }
}
