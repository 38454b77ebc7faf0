-- What an act of the silver book rests on, the paper that allowed a discharge, and statements of a year as they
-- were handed out.

-- the act that this one counts on: sheets typed in late count on the reading that found their silver.
-- It stays while they do.
ALTER TABLE movement ADD COLUMN rests_on BLOB REFERENCES movement (id);
-- until now only the remark said so; every reading and every number it can name is in the book
DROP TRIGGER movement_is_never_changed;
UPDATE movement SET rests_on = (
    SELECT reading.movement_id FROM book_entry reading
    WHERE reading.entry = CAST(substr(movement.remark, length('their silver is in the reading of entry ') + 1) AS INTEGER)
      AND reading.kind = 'reading')
WHERE kind = 'sheet' AND remark GLOB 'their silver is in the reading of entry [0-9]*';
CREATE TRIGGER movement_is_never_changed BEFORE UPDATE ON movement
BEGIN SELECT RAISE(ABORT, 'a movement is append-only: book a reversal'); END;
CREATE INDEX movement_by_what_it_rests_on ON movement (rests_on) WHERE rests_on IS NOT NULL;

-- A year's statement handed out: to whom, what it said, and the last entry that was in the book then.
CREATE TABLE given_statement (
    id         BLOB    NOT NULL PRIMARY KEY,
    site_id    BLOB    NOT NULL REFERENCES site (id),
    year       INTEGER NOT NULL,
    given_to   TEXT    NOT NULL,
    given_at   INTEGER NOT NULL,
    given_by   BLOB    NOT NULL,
    last_entry INTEGER NOT NULL,
    CONSTRAINT given_statement_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT given_statement_year_range CHECK (year BETWEEN 1970 AND 9998),
    CONSTRAINT given_statement_says_to_whom CHECK (length(given_to) BETWEEN 1 AND 200)
) STRICT;
CREATE INDEX given_statement_by_year ON given_statement (year);
CREATE TRIGGER given_statement_is_never_changed BEFORE UPDATE ON given_statement
BEGIN SELECT RAISE(ABORT, 'a statement handed out stays as it was given'); END;
CREATE TRIGGER given_statement_is_never_deleted BEFORE DELETE ON given_statement
BEGIN SELECT RAISE(ABORT, 'a statement handed out stays as it was given'); END;

-- Its figures: of each kind of contents, each column.
CREATE TABLE given_figure (
    given_statement_id BLOB    NOT NULL REFERENCES given_statement (id),
    contents           TEXT    NOT NULL,
    figure             TEXT    NOT NULL,
    volume_ul          INTEGER NOT NULL,
    silver_ug          INTEGER NOT NULL,
    silver_low_ug      INTEGER NOT NULL,
    silver_high_ug     INTEGER NOT NULL,
    silver_unknown     INTEGER NOT NULL,
    PRIMARY KEY (given_statement_id, contents, figure),
    CONSTRAINT given_figure_contents_known CHECK (contents IN ('spent fixer', 'first rinse', 'developer',
        'stop bath', 'bleach', 'mixed', 'scrap film and paper')),
    CONSTRAINT given_figure_known CHECK (figure IN ('start', 'generated', 'from other kinds', 'removed',
        'recovered', 'discharged', 'written off', 'end')),
    CONSTRAINT given_figure_unknown_is_flag CHECK (silver_unknown IN (0, 1))
) STRICT, WITHOUT ROWID;
CREATE TRIGGER given_figure_is_never_changed BEFORE UPDATE ON given_figure
BEGIN SELECT RAISE(ABORT, 'a statement handed out stays as it was given'); END;
CREATE TRIGGER given_figure_is_never_deleted BEFORE DELETE ON given_figure
BEGIN SELECT RAISE(ABORT, 'a statement handed out stays as it was given'); END;

-- The permit or letter that allowed a discharge, and its date; until now both stood in the authority's words.
ALTER TABLE discharge ADD COLUMN reference TEXT NOT NULL DEFAULT '';
ALTER TABLE discharge ADD COLUMN reference_on TEXT
    CONSTRAINT discharge_reference_on_form CHECK (reference_on IS NULL
        OR reference_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]');
