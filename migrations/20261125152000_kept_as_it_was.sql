-- What stood when a container left, every turn of its clocks, mistakes beside the book taken back,
-- sheets that wait for a decision, and a rule that may end with the next visit of the carrier.

-- the rule's end, or the next planned removal, whichever comes first
ALTER TABLE site_rule ADD COLUMN or_next_visit INTEGER NOT NULL DEFAULT 0
    CONSTRAINT site_rule_or_next_visit_is_flag CHECK (or_next_visit IN (0, 1));

-- how much of what stands here at the start of a year is to be recycled in it, and who says so
ALTER TABLE site_waste ADD COLUMN turnover_percent INTEGER
    CONSTRAINT site_waste_turnover_range CHECK (turnover_percent IS NULL OR turnover_percent BETWEEN 1 AND 100);
ALTER TABLE site_waste ADD COLUMN turnover_source TEXT NOT NULL DEFAULT '';

-- how much of the liquid was treated; NULL: all that the container held
ALTER TABLE recovery ADD COLUMN treated_ul INTEGER
    CONSTRAINT recovery_treated_positive CHECK (treated_ul IS NULL OR treated_ul > 0);

-- a mistake is taken back, with its reason, and stays in sight
ALTER TABLE container_look ADD COLUMN undone_at INTEGER;
ALTER TABLE container_look ADD COLUMN undone_by BLOB;
ALTER TABLE container_look ADD COLUMN undone_why TEXT NOT NULL DEFAULT ''
    CONSTRAINT container_look_undone_says_why CHECK ((undone_at IS NULL) = (undone_why = ''));
ALTER TABLE cartridge_change ADD COLUMN undone_at INTEGER;
ALTER TABLE cartridge_change ADD COLUMN undone_by BLOB;
ALTER TABLE cartridge_change ADD COLUMN undone_why TEXT NOT NULL DEFAULT ''
    CONSTRAINT cartridge_change_undone_says_why CHECK ((undone_at IS NULL) = (undone_why = ''));

-- Every time a container was marked full or moved, or that was taken back (began_at NULL). Append-only:
-- the container's own columns say what holds now. Marks made before this table are in the change log.
CREATE TABLE container_clock (
    id           BLOB    NOT NULL PRIMARY KEY,
    container_id BLOB    NOT NULL REFERENCES waste_container (id),
    clock        TEXT    NOT NULL,
    began_at     INTEGER,
    recorded_by  BLOB    NOT NULL,
    recorded_at  INTEGER NOT NULL,
    CONSTRAINT container_clock_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT container_clock_known CHECK (clock IN ('full', 'moved'))
) STRICT;
CREATE INDEX container_clock_by_container ON container_clock (container_id);
CREATE TRIGGER container_clock_is_never_changed BEFORE UPDATE ON container_clock
BEGIN SELECT RAISE(ABORT, 'what a container was marked is append-only'); END;
CREATE TRIGGER container_clock_is_never_deleted BEFORE DELETE ON container_clock
BEGIN SELECT RAISE(ABORT, 'what a container was marked is append-only'); END;

-- What applied to a container when it left: rules change afterwards, this does not.
CREATE TABLE kept_deadline (
    removal_id    BLOB    NOT NULL REFERENCES removal (id),
    position      INTEGER NOT NULL,
    rule          TEXT    NOT NULL,
    source        TEXT    NOT NULL,
    clock         TEXT    NOT NULL,
    began_on      TEXT,
    remove_by     TEXT,
    other_reading TEXT,
    PRIMARY KEY (removal_id, position),
    CONSTRAINT kept_deadline_dates_form CHECK (
        (began_on IS NULL OR began_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]')
        AND (remove_by IS NULL OR remove_by GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]')
        AND (other_reading IS NULL OR other_reading GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]')),
    CONSTRAINT kept_deadline_counts_from_something CHECK (remove_by IS NULL OR began_on IS NOT NULL)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER kept_deadline_is_never_changed BEFORE UPDATE ON kept_deadline
BEGIN SELECT RAISE(ABORT, 'what applied to a container when it left is append-only'); END;
CREATE TRIGGER kept_deadline_is_never_deleted BEFORE DELETE ON kept_deadline
BEGIN SELECT RAISE(ABORT, 'what applied to a container when it left is append-only'); END;
-- whether that was kept: removals from before this table were not
ALTER TABLE removal ADD COLUMN deadlines_kept INTEGER NOT NULL DEFAULT 0
    CONSTRAINT removal_deadlines_kept_is_flag CHECK (deadlines_kept IN (0, 1));

-- Sheets whose fixer has left the site wait until the instructor decides what becomes of their silver.
ALTER TABLE sheet_run ADD COLUMN decision TEXT NOT NULL DEFAULT ''
    CONSTRAINT sheet_run_decision_known CHECK (decision IN ('', 'went with the container', 'found by a reading',
        'booked into a container'));
ALTER TABLE sheet_run ADD COLUMN decided_at INTEGER;
ALTER TABLE sheet_run ADD COLUMN decided_by BLOB
    CONSTRAINT sheet_run_decision_signed CHECK ((decision = '') = (decided_by IS NULL)
        AND (decided_by IS NULL) = (decided_at IS NULL));
-- until now staff decided when they recorded them, also in sections archived since
DROP TRIGGER sheet_run_archived_update;
UPDATE sheet_run SET decision = 'went with the container', decided_at = recorded_at, decided_by = recorded_by
WHERE movement_id IS NULL AND undone_at IS NULL AND EXISTS (
    SELECT 1 FROM sheet_run_batch b WHERE b.sheet_run_id = sheet_run.id AND b.slot IN ('fixer', 'second fixer'));
CREATE TRIGGER sheet_run_archived_update BEFORE UPDATE ON sheet_run
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL) OR EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
