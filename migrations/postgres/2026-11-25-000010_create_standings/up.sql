-- What `assess` said of an appliance when it was last asked. A row is true only while its stamp is:
-- the appliance's newest count, the newest entry that changes judgements, and the day.
CREATE TABLE standings (
    org         BIGINT NOT NULL,
    place       BIGINT NOT NULL,
    nth         BIGINT NOT NULL,
    judged_by   BIGINT NOT NULL,
    day         BIGINT NOT NULL, -- days since 1970
    over_limit  BIGINT NOT NULL, -- 0 no, 1 yes, 2 cannot judge
    exceedances BIGINT NOT NULL,
    exceeded_on BIGINT NOT NULL, -- days since 1970 + 1 000 000, 0: never
    due         BIGINT NOT NULL, -- likewise
    percent     TEXT NOT NULL, -- rate of the newest addition, empty: none
    PRIMARY KEY (org, place)
);
