"""The live loop at one bench: who is spoken to, one job, from job to job."""
