DROP TRIGGER entries_never_changed ON entries;
DROP TRIGGER movements_never_changed ON movements;
DROP TRIGGER attachments_never_changed ON attachments;
DROP TRIGGER checkpoints_never_changed ON checkpoints;
DROP FUNCTION refuse_to_change_history();
