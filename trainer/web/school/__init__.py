"""Signing in by a school's own system.

==============  ============================================================================
module          holds
==============  ============================================================================
`settings`      the file that says which systems are believed, and in what
`fetching`      what the server asks of those systems
`keys`          the keys with which they sign, and the check of what is signed
`provider`      an OpenID provider: where its sign-in is, and what its answer says
`asked`         what a browser keeps between being sent to a system and coming back
`openid`        the routes of an OpenID provider
`platform`      a learning platform: what it says when somebody comes from it
`tool_keys`     the keys with which this server signs what it sends to platforms
`scores`        sending scores to platforms
`lti`           the routes of learning platforms
`systems`       all of it, ready to be asked
==============  ============================================================================
"""
