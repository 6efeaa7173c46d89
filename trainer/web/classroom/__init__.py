"""What the page has besides when it serves a class: who is signed in, and who may ask for what.

================  ============================================================================
module            holds
================  ============================================================================
`access`          who may ask for a route; the contexts of people who are signed in
`cookies`         the session's cookie, and the marks of browsers that signed in before
`clients`         what somebody signs in from, in words
`sign_in`         signing in and out, and what the links do that are handed out
`join`            joining a class by its code
`account`         one's own account
`people`          the accounts of the server, for its owner
`classes`         a teacher's classes, and one class
`assignments`     an assignment made, changed, previewed, copied
`gradebook`       learners by items and skills, songs bar by bar, grades changed
`dictation`       live dictation at the teacher's desk
`dictation_seat`  live dictation as a learner writes it
`work`            a learner's work for their classes
`forms`           what teachers type about an assignment
`privacy`         what is kept and why
`serving`         where the server listens, and the one address under which it is known
================  ============================================================================

Signing in by a school's own system is in `trainer.web.school`.
"""
