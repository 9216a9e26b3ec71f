-- Who is told when and why, what became of each job, what people said of it, and what is due. Times as in the first script.

ALTER TABLE parcel ADD COLUMN not_before REAL;  -- a stamp: collected until then; NULL: at once
ALTER TABLE parcel ADD COLUMN loud INTEGER NOT NULL DEFAULT 0;  -- 1: by all of the person's routes at the same time
ALTER TABLE parcel ADD COLUMN why TEXT NOT NULL DEFAULT '';  -- why this person
CREATE INDEX parcel_told ON parcel (person, delivered) WHERE delivered IS NOT NULL;
