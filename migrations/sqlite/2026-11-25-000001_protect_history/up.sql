-- Written facts are never changed or removed, not even by hand.

CREATE TRIGGER entries_never_changed BEFORE UPDATE ON entries
BEGIN
    SELECT RAISE(ABORT, 'an entry is never changed; book a correction');
END;

CREATE TRIGGER entries_never_removed BEFORE DELETE ON entries
BEGIN
    SELECT RAISE(ABORT, 'an entry is never removed; book a correction');
END;

CREATE TRIGGER movements_never_changed BEFORE UPDATE ON movements
BEGIN
    SELECT RAISE(ABORT, 'a movement is never changed; book a correction');
END;

CREATE TRIGGER movements_never_removed BEFORE DELETE ON movements
BEGIN
    SELECT RAISE(ABORT, 'a movement is never removed; book a correction');
END;

CREATE TRIGGER attachments_never_changed BEFORE UPDATE ON attachments
BEGIN
    SELECT RAISE(ABORT, 'an attachment is never changed; book a correction');
END;

CREATE TRIGGER attachments_never_removed BEFORE DELETE ON attachments
BEGIN
    SELECT RAISE(ABORT, 'an attachment is never removed; book a correction');
END;

CREATE TRIGGER checkpoints_never_changed BEFORE UPDATE ON checkpoints
BEGIN
    SELECT RAISE(ABORT, 'a checkpoint is never changed; book a correction');
END;

CREATE TRIGGER checkpoints_never_removed BEFORE DELETE ON checkpoints
BEGIN
    SELECT RAISE(ABORT, 'a checkpoint is never removed; book a correction');
END;
