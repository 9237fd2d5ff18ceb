-- What `assess` said of an appliance when it was last asked. A row is true only while its stamp is:
-- the appliance's newest count, the newest entry that changes judgements, and the day.
CREATE TABLE standings (
    org         INTEGER NOT NULL,
    place       INTEGER NOT NULL,
    nth         INTEGER NOT NULL,
    judged_by   INTEGER NOT NULL,
    day         INTEGER NOT NULL, -- days since 1970
    over_limit  INTEGER NOT NULL, -- 0 no, 1 yes, 2 cannot judge
    exceedances INTEGER NOT NULL,
    exceeded_on INTEGER NOT NULL, -- days since 1970 + 1 000 000, 0: never
    due         INTEGER NOT NULL, -- likewise
    percent     TEXT NOT NULL, -- rate of the newest addition, empty: none
    PRIMARY KEY (org, place)
) WITHOUT ROWID;
