-- Written facts are never changed or removed, not even by hand.
CREATE FUNCTION refuse_to_change_history() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% on % is refused: what is booked is never changed or removed; book a correction',
        TG_OP, TG_TABLE_NAME;
END
$$;

CREATE TRIGGER entries_never_changed BEFORE UPDATE OR DELETE OR TRUNCATE ON entries
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_to_change_history();

CREATE TRIGGER movements_never_changed BEFORE UPDATE OR DELETE OR TRUNCATE ON movements
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_to_change_history();

CREATE TRIGGER attachments_never_changed BEFORE UPDATE OR DELETE OR TRUNCATE ON attachments
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_to_change_history();

CREATE TRIGGER checkpoints_never_changed BEFORE UPDATE OR DELETE OR TRUNCATE ON checkpoints
    FOR EACH STATEMENT EXECUTE FUNCTION refuse_to_change_history();
