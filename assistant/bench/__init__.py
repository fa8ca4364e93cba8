"""The live loop at one bench: somebody speaks, the assistant records it and answers.

Theory of operation
-------------------

A *turn* is one phrase and all that follows from it. It goes one way, in one thread::

    hear ──► decide ──► on disk ──► spoken
    hearer   session    keeper      presenter

1. Hear. A `Hearer` has the ears recognise a phrase in the grammar of the moment, and drops what is
   said to others (`addressing`). What comes out is an `Utterance`: words, what they mean, and the
   verdict whether to act on them. A typed line and a key become one too.
2. Decide. The *session* (`session`) is what is talked about: a job, or between jobs which one to
   work on. It says what follows: events to record, replies to speak, and effects, such as "speak
   slower" or "take up job 3". Nothing has happened yet.
3. On disk. The *keeper* (`keeper`) writes the events into the journal, with the technician's name,
   the words as heard and, for findings and notes, the sound. Only then does the session move on, by
   the events as they were stored.
4. Spoken. The *presenter* (`presenter`) plays a tone, shows the replies and says them. Effects are
   carried out here too, by one method, the same in a job and between jobs.

`conversation` joins the three, and nothing else writes to the record or speaks. Before each answer
it says what has become due: timers, and what the parts desk entered.

When nothing can be written, say because the disk is full, the technician hears that in place of the
reply. The session stays where it was and the same can be said again. A timer that is up is an
exception: it is announced at once, and recorded when that can be done again. When the job went on
at another bench, it cannot go on from here: that is said, and the bench goes back between jobs, or
the run ends.

Who may speak when
------------------

Replies queue behind each other. Whoever speaks and is understood cuts them short; "stand by" keeps
what it cut short for "say again". While somebody speaks, or has said a number that is not answered
yet, timers wait for a while. Standing by, the assistant speaks only of timers and lost devices, and
to whoever calls it or says "resume". Without a headset the microphone is ignored while the voice
can be heard in the room (`echo`).

Threads
-------

The conversation lives in one thread. Devices, the voice and the display have threads of their own.
Screens are called in the bench's thread. One that is looked at from another thread keeps what it
was given, a `Situation`, which is immutable, and never reads a field of the bench.

What may never happen
---------------------

- A reply says that something is recorded, and it is not on disk.
- The session is in a state that the events on disk do not lead to.
- A phrase is acted on whose verdict is not "accepted", except as free speech while a note is taken.
- A phrase is acted on that was meant for others, or that the assistant said itself.
- A slow browser, a lost device or a full disk keeps the technician waiting, or ends the job.
"""
