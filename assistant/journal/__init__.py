"""The record on disk.

**Theory of operation.** A job is a *chain* of events. Each event is stored as canonical JSON
together with a SHA-256 over its job, its place in the job, its own text and the hash of the event
before it. Change, remove, insert or move one event, and every hash from there on is wrong. Closing
a job *seals* it: the hash of the closing event stands for the whole job, and is printed on reports
so that it can be compared with a copy kept elsewhere. A sound clip or a picture is named in its
event by its own SHA-256, so the chain covers it too.

A thing **counts as recorded** when `Journal.append` has returned, and not before: by then SQLite
has committed it and synced it to disk. `append` writes all events of a turn, their clip and their
picture in one transaction, or nothing, and raises `CannotRecord` where it wrote nothing. It takes
the number of events that the caller knows of, and refuses if the job has grown meanwhile; so one
job cannot be worked on in two places.

The same job can be in three places, and is verified the same way in each:

* the bench's *journal*, one SQLite file (`store.Journal`), the only one that work is recorded in;
* an *archive*, one ZIP file for one job (`archive`), to keep or to carry elsewhere;
* the shop's *database*, PostgreSQL (`shop.Shop`), filled from the journals by `publication`.

A job is known everywhere by its UUID. Its number, and the numbers of its clips, are for people and
differ from place to place. `records.Records` is what can be read from a journal and from the shop's
database alike.

Three things stand beside the chain and prove nothing: the search index and the note of each job's
last event, which are made from the events; transcripts, which are made from clips; and additions,
which the parts desk enters about a job's orders, or with which somebody signs it off, after it was
closed.

**What may never happen:** an event, clip or picture is changed or removed, by anyone (triggers in
both databases refuse it, and the chain shows it where somebody got round them); an event is added
to a closed job; something is spoken as recorded that a power cut could take away; half of a turn,
of a batch or of an archive is there.
"""
