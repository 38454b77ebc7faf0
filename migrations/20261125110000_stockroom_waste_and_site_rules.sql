-- What a bottle and a box say in full, what stands on the shelf, tests and counts, scrap and rinse,
-- looks at containers, recovery on site, and rules that count from a volume.
--
-- A CHECK cannot be widened in place: such tables are made anew under another name, filled, and
-- renamed. Foreign keys are off meanwhile and checked afterwards.

-- ---------------------------------------------------------------- stockroom

-- what a paper is coated on: it decides times, washing, capacity and the silver a sheet delivers
ALTER TABLE paper ADD COLUMN base TEXT NOT NULL DEFAULT ''
    CONSTRAINT paper_base_known CHECK (base IN ('', 'resin-coated', 'fibre', 'film'));
UPDATE paper SET base = CASE
    WHEN kind = 'film' THEN 'film'
    WHEN name = 'Resin-coated paper' THEN 'resin-coated'
    WHEN name = 'Fibre-based paper' THEN 'fibre'
    ELSE '' END;

-- the sizes a paper is kept in, and how many sheets were counted on the shelf (NULL: not counted)
CREATE TABLE paper_size (
    paper_id  BLOB    NOT NULL REFERENCES paper (id),
    typed     TEXT    NOT NULL,
    width_nm  INTEGER NOT NULL,
    height_nm INTEGER NOT NULL,
    on_shelf  INTEGER,
    position  INTEGER NOT NULL,
    PRIMARY KEY (paper_id, typed),
    CONSTRAINT paper_size_range CHECK (width_nm BETWEEN 5000000 AND 2000000000
        AND height_nm BETWEEN 5000000 AND 2000000000),
    CONSTRAINT paper_size_on_shelf_range CHECK (on_shelf IS NULL OR on_shelf BETWEEN 0 AND 100000)
) STRICT, WITHOUT ROWID;

CREATE TABLE new_product (
    id                     BLOB    NOT NULL PRIMARY KEY,
    site_id                BLOB    NOT NULL REFERENCES site (id),
    kind                   TEXT    NOT NULL,
    name                   TEXT    NOT NULL,
    -- the label's dilution, concentrate + water, e.g. 1+9; 1+0 is used as it comes
    parts_concentrate      INTEGER NOT NULL,
    parts_water            INTEGER NOT NULL,
    distilled_water        INTEGER NOT NULL DEFAULT 0,
    capacity_mm2_per_l     INTEGER,
    -- where the bottle gives another capacity for resin-coated paper
    rc_capacity_mm2_per_l  INTEGER,
    tray_life_ms           INTEGER,
    -- how long the working solution keeps in a full, closed bottle
    bottle_life_ms         INTEGER,
    -- a fixer's working limit for silver, micrograms per litre
    silver_limit_ug_per_l  INTEGER,
    -- the label's times at its temperature
    time_rc_ms             INTEGER,
    time_fibre_ms          INTEGER,
    time_film_ms           INTEGER,
    at_milli_c             INTEGER,
    -- how many times faster 10 degrees make it, for film
    factor_per_10c_milli   INTEGER NOT NULL DEFAULT 2400,
    -- concentrate counted on the shelf; NULL is "not counted"
    on_shelf_ul            INTEGER,
    hazards                TEXT    NOT NULL DEFAULT '',
    data_sheet             TEXT    NOT NULL DEFAULT '',
    figures_from           TEXT    NOT NULL DEFAULT '',
    put_away_at            INTEGER,
    version                INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT product_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT product_kind_known CHECK (kind IN ('developer', 'stop bath', 'fixer', 'washing aid', 'bleach')),
    CONSTRAINT product_name_length CHECK (length(name) BETWEEN 1 AND 120),
    CONSTRAINT product_parts_range CHECK (parts_concentrate BETWEEN 1 AND 1000 AND parts_water BETWEEN 0 AND 1000),
    CONSTRAINT product_distilled_is_flag CHECK (distilled_water IN (0, 1)),
    CONSTRAINT product_capacity_positive CHECK ((capacity_mm2_per_l IS NULL OR capacity_mm2_per_l > 0)
        AND (rc_capacity_mm2_per_l IS NULL OR rc_capacity_mm2_per_l > 0)),
    CONSTRAINT product_life_positive CHECK ((tray_life_ms IS NULL OR tray_life_ms > 0)
        AND (bottle_life_ms IS NULL OR bottle_life_ms > 0)),
    CONSTRAINT product_silver_limit_positive CHECK (silver_limit_ug_per_l IS NULL OR silver_limit_ug_per_l > 0),
    CONSTRAINT product_times_positive CHECK ((time_rc_ms IS NULL OR time_rc_ms > 0)
        AND (time_fibre_ms IS NULL OR time_fibre_ms > 0) AND (time_film_ms IS NULL OR time_film_ms > 0)),
    CONSTRAINT product_temperature_range CHECK (at_milli_c IS NULL OR at_milli_c BETWEEN 0 AND 60000),
    CONSTRAINT product_factor_range CHECK (factor_per_10c_milli BETWEEN 1000 AND 6000),
    CONSTRAINT product_on_shelf_range CHECK (on_shelf_ul IS NULL OR on_shelf_ul BETWEEN 0 AND 1000000000)
) STRICT;
INSERT INTO new_product (id, site_id, kind, name, parts_concentrate, parts_water, distilled_water, capacity_mm2_per_l,
    tray_life_ms, silver_limit_ug_per_l, hazards, data_sheet, figures_from, put_away_at, version)
SELECT id, site_id, kind, name, parts_concentrate, parts_water, distilled_water, capacity_mm2_per_l,
    tray_life_ms, silver_limit_ug_per_l, hazards, data_sheet, figures_from, put_away_at, version FROM product;
DROP TABLE product;
ALTER TABLE new_product RENAME TO product;

-- how many people can stand at a tray line in the dark; NULL is "not entered"
ALTER TABLE tray_line ADD COLUMN places INTEGER
    CONSTRAINT tray_line_places_range CHECK (places IS NULL OR places BETWEEN 1 AND 100);

-- the trays there are, by the sheet they are made for
CREATE TABLE tray (
    id          BLOB    NOT NULL PRIMARY KEY,
    site_id     BLOB    NOT NULL REFERENCES site (id),
    name        TEXT    NOT NULL,
    -- what it must hold to be worked in
    holds_ul    INTEGER NOT NULL,
    count       INTEGER NOT NULL,
    source      TEXT    NOT NULL DEFAULT '',
    put_away_at INTEGER,
    version     INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT tray_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT tray_name_length CHECK (length(name) BETWEEN 1 AND 120),
    CONSTRAINT tray_holds_range CHECK (holds_ul BETWEEN 50000 AND 100000000),
    CONSTRAINT tray_count_range CHECK (count BETWEEN 1 AND 1000)
) STRICT;

-- ---------------------------------------------------------------- batches

CREATE TABLE new_batch (
    id           BLOB    NOT NULL PRIMARY KEY,
    site_id      BLOB    NOT NULL REFERENCES site (id),
    label_number INTEGER NOT NULL,
    product_id   BLOB    NOT NULL REFERENCES product (id),
    -- kept here as they were when it was mixed: the product's card may change later
    kind                  TEXT    NOT NULL,
    product_name          TEXT    NOT NULL,
    parts_concentrate     INTEGER NOT NULL,
    parts_water           INTEGER NOT NULL,
    capacity_mm2_per_l    INTEGER,
    rc_capacity_mm2_per_l INTEGER,
    tray_life_ms          INTEGER,
    bottle_life_ms        INTEGER,
    silver_limit_ug_per_l INTEGER,
    volume_ul    INTEGER NOT NULL,
    mixed_at     INTEGER NOT NULL,
    mixed_by     BLOB    NOT NULL,
    state        TEXT    NOT NULL DEFAULT 'in use',
    retired_at   INTEGER,
    retired_into BLOB    REFERENCES waste_container (id),
    remark       TEXT    NOT NULL DEFAULT '',
    version      INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT batch_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT batch_kind_known CHECK (kind IN ('developer', 'stop bath', 'fixer', 'washing aid', 'bleach')),
    CONSTRAINT batch_volume_positive CHECK (volume_ul > 0),
    CONSTRAINT batch_state_known CHECK (state IN ('in use', 'retired')),
    CONSTRAINT batch_state_dated CHECK ((state = 'retired') = (retired_at IS NOT NULL)),
    UNIQUE (site_id, label_number)
) STRICT;
INSERT INTO new_batch (id, site_id, label_number, product_id, kind, product_name, parts_concentrate, parts_water,
    capacity_mm2_per_l, tray_life_ms, silver_limit_ug_per_l, volume_ul, mixed_at, mixed_by, state, retired_at,
    retired_into, remark, version)
SELECT id, site_id, label_number, product_id, kind, product_name, parts_concentrate, parts_water,
    capacity_mm2_per_l, tray_life_ms, silver_limit_ug_per_l, volume_ul, mixed_at, mixed_by, state, retired_at,
    retired_into, remark, version FROM batch;
DROP TABLE batch;
ALTER TABLE new_batch RENAME TO batch;

-- How long a piece of film takes to clear in a fixer: fresh, and now. Append-only but for a mistake.
CREATE TABLE clearing_test (
    id          BLOB    NOT NULL PRIMARY KEY,
    batch_id    BLOB    NOT NULL REFERENCES batch (id),
    fresh_ms    INTEGER NOT NULL,
    now_ms      INTEGER NOT NULL,
    tested_at   INTEGER NOT NULL,
    remark      TEXT    NOT NULL DEFAULT '',
    undone_at   INTEGER,
    recorded_by BLOB    NOT NULL,
    recorded_at INTEGER NOT NULL,
    CONSTRAINT clearing_test_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT clearing_test_range CHECK (fresh_ms BETWEEN 1000 AND 3600000 AND now_ms BETWEEN 1000 AND 3600000)
) STRICT;
CREATE INDEX clearing_test_by_batch ON clearing_test (batch_id);

-- Sheets counted from the box in a session, to be held against the sheets recorded.
CREATE TABLE sheet_count (
    id             BLOB    NOT NULL PRIMARY KEY,
    lab_session_id BLOB    NOT NULL REFERENCES lab_session (id),
    paper_id       BLOB    NOT NULL REFERENCES paper (id),
    size_typed     TEXT    NOT NULL,
    area_mm2       INTEGER NOT NULL,
    at_start       INTEGER NOT NULL,
    at_end         INTEGER,
    -- of those taken: fogged or spoilt, and never put through the trays
    spoilt         INTEGER NOT NULL DEFAULT 0,
    remark         TEXT    NOT NULL DEFAULT '',
    counted_by     BLOB    NOT NULL,
    counted_at     INTEGER NOT NULL,
    version        INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT sheet_count_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT sheet_count_area_positive CHECK (area_mm2 > 0),
    CONSTRAINT sheet_count_range CHECK (at_start BETWEEN 0 AND 100000
        AND (at_end IS NULL OR at_end BETWEEN 0 AND at_start) AND spoilt BETWEEN 0 AND at_start - coalesce(at_end, 0)),
    UNIQUE (lab_session_id, paper_id, size_typed)
) STRICT;

-- ---------------------------------------------------------------- the silver book

CREATE TABLE new_movement (
    id           BLOB    NOT NULL PRIMARY KEY,
    site_id      BLOB    NOT NULL REFERENCES site (id),
    kind         TEXT    NOT NULL,
    happened_at  INTEGER NOT NULL,
    recorded_at  INTEGER NOT NULL,
    recorded_by  BLOB    NOT NULL,
    remark       TEXT    NOT NULL DEFAULT '',
    CONSTRAINT movement_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT movement_kind_known CHECK (kind IN ('mixing', 'opening', 'sheet', 'retiring', 'topping up',
        'pouring', 'rinse', 'scrap', 'spill', 'sample', 'evaporation', 'measuring', 'reading', 'discharge',
        'recovery', 'removal', 'reversal'))
) STRICT;
INSERT INTO new_movement (id, site_id, kind, happened_at, recorded_at, recorded_by, remark)
SELECT id, site_id, kind, happened_at, recorded_at, recorded_by, remark FROM movement;
DROP TABLE movement;
ALTER TABLE new_movement RENAME TO movement;
CREATE TRIGGER movement_is_never_changed BEFORE UPDATE ON movement
BEGIN SELECT RAISE(ABORT, 'a movement is append-only: book a reversal'); END;
CREATE TRIGGER movement_is_never_deleted BEFORE DELETE ON movement
BEGIN SELECT RAISE(ABORT, 'a movement is append-only: book a reversal'); END;
CREATE INDEX book_entry_by_time ON book_entry (happened_at);

-- ---------------------------------------------------------------- waste

CREATE TABLE new_waste_container (
    id            BLOB    NOT NULL PRIMARY KEY,
    site_id       BLOB    NOT NULL REFERENCES site (id),
    label_number  INTEGER NOT NULL,
    contents      TEXT    NOT NULL,
    hazards       TEXT    NOT NULL DEFAULT '',
    place         TEXT    NOT NULL DEFAULT '',
    capacity_ul   INTEGER NOT NULL,
    state         TEXT    NOT NULL DEFAULT 'filling',
    -- accumulation start: the first drop, as it happened
    first_drop_at INTEGER,
    full_at       INTEGER,
    moved_at      INTEGER,
    removed_at    INTEGER,
    -- set up by mistake: nothing was ever in it
    put_away_at   INTEGER,
    created_at    INTEGER NOT NULL,
    version       INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT waste_container_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT waste_container_contents_known CHECK (contents IN ('spent fixer', 'first rinse', 'developer',
        'stop bath', 'bleach', 'mixed', 'scrap film and paper')),
    CONSTRAINT waste_container_capacity_positive CHECK (capacity_ul > 0),
    CONSTRAINT waste_container_state_known CHECK (state IN ('filling', 'full', 'removed')),
    CONSTRAINT waste_container_state_dated CHECK (
        (state <> 'full' OR full_at IS NOT NULL) AND ((state = 'removed') = (removed_at IS NOT NULL))),
    CONSTRAINT waste_container_put_away_empty CHECK (put_away_at IS NULL OR first_drop_at IS NULL),
    UNIQUE (site_id, label_number)
) STRICT;
INSERT INTO new_waste_container (id, site_id, label_number, contents, hazards, place, capacity_ul, state,
    first_drop_at, full_at, moved_at, removed_at, created_at, version)
SELECT id, site_id, label_number, contents, hazards, place, capacity_ul, state,
    first_drop_at, full_at, moved_at, removed_at, created_at, version FROM waste_container;
DROP TABLE waste_container;
ALTER TABLE new_waste_container RENAME TO waste_container;

-- Film and paper thrown into a container: unprocessed sheets hold all of their silver.
CREATE TABLE scrap (
    id           BLOB    NOT NULL PRIMARY KEY,
    movement_id  BLOB    NOT NULL UNIQUE REFERENCES movement (id),
    container_id BLOB    NOT NULL REFERENCES waste_container (id),
    paper_id     BLOB    NOT NULL REFERENCES paper (id),
    processed    INTEGER NOT NULL,
    sheets       INTEGER NOT NULL,
    area_mm2     INTEGER NOT NULL,
    mass_g       INTEGER,
    CONSTRAINT scrap_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT scrap_processed_is_flag CHECK (processed IN (0, 1)),
    CONSTRAINT scrap_sheets_range CHECK (sheets BETWEEN 1 AND 10000),
    CONSTRAINT scrap_area_positive CHECK (area_mm2 > 0),
    CONSTRAINT scrap_mass_positive CHECK (mass_g IS NULL OR mass_g > 0)
) STRICT;

-- Somebody looked at a container: closed, labelled, sound.
CREATE TABLE container_look (
    id           BLOB    NOT NULL PRIMARY KEY,
    container_id BLOB    NOT NULL REFERENCES waste_container (id),
    looked_at    INTEGER NOT NULL,
    closed       INTEGER NOT NULL,
    labelled     INTEGER NOT NULL,
    sound        INTEGER NOT NULL,
    remark       TEXT    NOT NULL DEFAULT '',
    looked_by    BLOB    NOT NULL,
    recorded_at  INTEGER NOT NULL,
    CONSTRAINT container_look_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT container_look_are_flags CHECK (closed IN (0, 1) AND labelled IN (0, 1) AND sound IN (0, 1)),
    -- what is not as it should be is described
    CONSTRAINT container_look_fault_described CHECK ((closed = 1 AND labelled = 1 AND sound = 1) OR length(remark) > 0)
) STRICT;
CREATE INDEX container_look_by_container ON container_look (container_id);

-- Silver recovered on site: what the booked movement was, before and after.
CREATE TABLE recovery (
    id               BLOB    NOT NULL PRIMARY KEY,
    movement_id      BLOB    NOT NULL UNIQUE REFERENCES movement (id),
    container_id     BLOB    NOT NULL REFERENCES waste_container (id),
    means            TEXT    NOT NULL,
    before_ug_per_l  INTEGER,
    after_ug_per_l   INTEGER,
    measured_how     TEXT    NOT NULL DEFAULT '',
    cartridge        TEXT    NOT NULL DEFAULT '',
    CONSTRAINT recovery_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT recovery_means_given CHECK (length(means) BETWEEN 1 AND 120),
    CONSTRAINT recovery_not_negative CHECK ((before_ug_per_l IS NULL OR before_ug_per_l >= 0)
        AND (after_ug_per_l IS NULL OR after_ug_per_l >= 0))
) STRICT;

-- A recovery cartridge put in the place of another.
CREATE TABLE cartridge_change (
    id          BLOB    NOT NULL PRIMARY KEY,
    site_id     BLOB    NOT NULL REFERENCES site (id),
    cartridge   TEXT    NOT NULL,
    changed_at  INTEGER NOT NULL,
    old_went_to TEXT    NOT NULL DEFAULT '',
    remark      TEXT    NOT NULL DEFAULT '',
    changed_by  BLOB    NOT NULL,
    recorded_at INTEGER NOT NULL,
    CONSTRAINT cartridge_change_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT cartridge_change_named CHECK (length(cartridge) BETWEEN 1 AND 120)
) STRICT;

-- whether what was taken away went to have its silver reclaimed; 0 is "not said"
ALTER TABLE removal ADD COLUMN to_reclaim_silver INTEGER NOT NULL DEFAULT 0
    CONSTRAINT removal_to_reclaim_is_flag CHECK (to_reclaim_silver IN (0, 1));

-- ---------------------------------------------------------------- the site's own rules

-- A rule counts from a container's own clock, or from the day the waste here went past a volume;
-- such a rule may also be a limit without a term.
CREATE TABLE new_site_rule (
    id         BLOB    NOT NULL PRIMARY KEY,
    site_id    BLOB    NOT NULL REFERENCES site (id),
    clock      TEXT    NOT NULL,
    span       INTEGER,
    span_unit  TEXT,
    volume_ul  INTEGER,
    source     TEXT    NOT NULL DEFAULT '',
    entered_by BLOB    NOT NULL,
    entered_at INTEGER NOT NULL,
    ended_at   INTEGER,
    version    INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT site_rule_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT site_rule_clock_known CHECK (clock IN ('first drop', 'full', 'moved', 'past volume')),
    CONSTRAINT site_rule_unit_known CHECK (span_unit IS NULL OR span_unit IN ('days', 'months')),
    CONSTRAINT site_rule_span_range CHECK (span IS NULL OR span BETWEEN 1 AND 1200),
    CONSTRAINT site_rule_span_has_unit CHECK ((span IS NULL) = (span_unit IS NULL)),
    CONSTRAINT site_rule_says_something CHECK ((clock = 'past volume') = (volume_ul IS NOT NULL)
        AND (span IS NOT NULL OR clock = 'past volume')),
    CONSTRAINT site_rule_volume_range CHECK (volume_ul IS NULL OR volume_ul BETWEEN 100000 AND 100000000000)
) STRICT;
INSERT INTO new_site_rule (id, site_id, clock, span, span_unit, source, entered_by, entered_at, ended_at, version)
SELECT id, site_id, clock, span, span_unit, source, entered_by, entered_at, ended_at, version FROM site_rule;
DROP TABLE site_rule;
ALTER TABLE new_site_rule RENAME TO site_rule;

-- What else the site entered about its waste. One row a site; without it, nothing was entered.
CREATE TABLE site_waste (
    site_id         BLOB    NOT NULL PRIMARY KEY REFERENCES site (id),
    look_every_days INTEGER,
    look_source     TEXT    NOT NULL DEFAULT '',
    keep_years      INTEGER,
    keep_source     TEXT    NOT NULL DEFAULT '',
    next_removal_on TEXT,
    version         INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT site_waste_look_range CHECK (look_every_days IS NULL OR look_every_days BETWEEN 1 AND 366),
    CONSTRAINT site_waste_keep_range CHECK (keep_years IS NULL OR keep_years BETWEEN 1 AND 100),
    CONSTRAINT site_waste_next_removal_form CHECK (next_removal_on IS NULL
        OR next_removal_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]')
) STRICT;

-- What the site says it generates in all in a month, of which this darkroom is a part.
CREATE TABLE site_month (
    site_id    BLOB    NOT NULL REFERENCES site (id),
    month      TEXT    NOT NULL,
    nonacute_g INTEGER NOT NULL,
    acute_g    INTEGER NOT NULL,
    source     TEXT    NOT NULL,
    entered_by BLOB    NOT NULL,
    entered_at INTEGER NOT NULL,
    version    INTEGER NOT NULL DEFAULT 1,
    PRIMARY KEY (site_id, month),
    CONSTRAINT site_month_form CHECK (month GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]'),
    CONSTRAINT site_month_not_negative CHECK (nonacute_g BETWEEN 0 AND 1000000000 AND acute_g BETWEEN 0 AND 1000000000),
    CONSTRAINT site_month_says_who CHECK (length(source) > 0)
) STRICT, WITHOUT ROWID;
