DROP TRIGGER entries_never_changed;
DROP TRIGGER entries_never_removed;
DROP TRIGGER movements_never_changed;
DROP TRIGGER movements_never_removed;
DROP TRIGGER attachments_never_changed;
DROP TRIGGER attachments_never_removed;
DROP TRIGGER checkpoints_never_changed;
DROP TRIGGER checkpoints_never_removed;
