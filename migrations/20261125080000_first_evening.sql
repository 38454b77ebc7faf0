-- The first whole: people, plan, cameras, sheets, chemistry, the silver book, marks.
--
-- Ids are UUIDv7 as 16-byte blobs. Integers only, so that sums are exact:
-- volumes in microlitres (_ul), silver in micrograms (_ug), lengths in nanometres (_nm),
-- areas in square millimetres (_mm2), durations in milliseconds (_ms), instants in
-- microseconds since 1970 (_at), ratios and stops in thousandths (_milli).
-- A column *_typed keeps what a person typed, with its unit, beside the stored value.

-- ---------------------------------------------------------------- the server itself

CREATE TABLE server_secret (
    name  TEXT NOT NULL PRIMARY KEY,
    value BLOB NOT NULL
) STRICT;

CREATE TABLE account (
    id            BLOB    NOT NULL PRIMARY KEY,
    role          TEXT    NOT NULL,
    sign_in_name  TEXT    NOT NULL COLLATE NOCASE UNIQUE,
    display_name  TEXT    NOT NULL,
    password_hash TEXT    NOT NULL,
    ended_at      INTEGER,
    created_at    INTEGER NOT NULL,
    version       INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT account_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT account_role_known CHECK (role IN ('instructor', 'assistant')),
    CONSTRAINT account_sign_in_name_length CHECK (length(sign_in_name) BETWEEN 1 AND 60),
    CONSTRAINT account_display_name_length CHECK (length(display_name) BETWEEN 1 AND 120)
) STRICT;

-- A link that works once: the first instructor, or a forgotten password.
CREATE TABLE one_time_link (
    token_hash BLOB    NOT NULL PRIMARY KEY,
    purpose    TEXT    NOT NULL,
    account_id BLOB    REFERENCES account (id),
    expires_at INTEGER NOT NULL,
    used_at    INTEGER,
    CONSTRAINT one_time_link_hash_is_sha256 CHECK (length(token_hash) = 32),
    CONSTRAINT one_time_link_purpose_known CHECK (purpose IN ('first instructor', 'new password')),
    CONSTRAINT one_time_link_names_account CHECK ((purpose = 'new password') = (account_id IS NOT NULL))
) STRICT;

-- ---------------------------------------------------------------- site and stockroom

CREATE TABLE site (
    id                   BLOB    NOT NULL PRIMARY KEY,
    name                 TEXT    NOT NULL,
    place                TEXT    NOT NULL DEFAULT '',
    time_zone            TEXT    NOT NULL,
    disposal_contact     TEXT    NOT NULL DEFAULT '',
    -- what the site says waste labels must carry as their title, e.g. from its safety office
    waste_title          TEXT    NOT NULL DEFAULT '',
    emergency_line       TEXT    NOT NULL DEFAULT '',
    -- the site's own limit for silver in what leaves it; NULL is "not entered"
    silver_limit_ug_per_l INTEGER,
    silver_limit_source  TEXT    NOT NULL DEFAULT '',
    created_at           INTEGER NOT NULL,
    version              INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT site_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT site_name_length CHECK (length(name) BETWEEN 1 AND 120),
    CONSTRAINT site_silver_limit_positive CHECK (silver_limit_ug_per_l IS NULL OR silver_limit_ug_per_l > 0)
) STRICT;

-- A rule the site entered for when a waste container must be gone.
CREATE TABLE site_rule (
    id         BLOB    NOT NULL PRIMARY KEY,
    site_id    BLOB    NOT NULL REFERENCES site (id),
    clock      TEXT    NOT NULL,
    span       INTEGER NOT NULL,
    span_unit  TEXT    NOT NULL,
    source     TEXT    NOT NULL DEFAULT '',
    entered_by BLOB    NOT NULL,
    entered_at INTEGER NOT NULL,
    ended_at   INTEGER,
    version    INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT site_rule_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT site_rule_clock_known CHECK (clock IN ('first drop', 'full', 'moved')),
    CONSTRAINT site_rule_unit_known CHECK (span_unit IN ('days', 'months')),
    CONSTRAINT site_rule_span_range CHECK (span BETWEEN 1 AND 1200)
) STRICT;

CREATE TABLE paper (
    id                        BLOB    NOT NULL PRIMARY KEY,
    site_id                   BLOB    NOT NULL REFERENCES site (id),
    kind                      TEXT    NOT NULL,
    name                      TEXT    NOT NULL,
    exposure_index_milli      INTEGER NOT NULL,
    reciprocity_milli         INTEGER NOT NULL DEFAULT 1000,
    reciprocity_threshold_ms  INTEGER NOT NULL DEFAULT 1000,
    -- silver delivered to the fixer, micrograms per square metre, with its honest range
    silver_ug_per_m2          INTEGER NOT NULL,
    silver_low_ug_per_m2      INTEGER NOT NULL,
    silver_high_ug_per_m2     INTEGER NOT NULL,
    silver_source             TEXT    NOT NULL DEFAULT '',
    -- liquid carried from one tray to the next by a drained sheet
    carry_over_ul_per_m2      INTEGER NOT NULL,
    remark                    TEXT    NOT NULL DEFAULT '',
    put_away_at               INTEGER,
    version                   INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT paper_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT paper_kind_known CHECK (kind IN ('paper', 'film')),
    CONSTRAINT paper_name_length CHECK (length(name) BETWEEN 1 AND 120),
    CONSTRAINT paper_exposure_index_range CHECK (exposure_index_milli BETWEEN 10 AND 100000000),
    CONSTRAINT paper_reciprocity_range CHECK (reciprocity_milli BETWEEN 1000 AND 2000),
    CONSTRAINT paper_threshold_range CHECK (reciprocity_threshold_ms BETWEEN 1 AND 3600000),
    CONSTRAINT paper_silver_ordered CHECK (0 <= silver_low_ug_per_m2
        AND silver_low_ug_per_m2 <= silver_ug_per_m2 AND silver_ug_per_m2 <= silver_high_ug_per_m2),
    CONSTRAINT paper_carry_over_range CHECK (carry_over_ul_per_m2 BETWEEN 0 AND 2000000)
) STRICT;

CREATE TABLE product (
    id                     BLOB    NOT NULL PRIMARY KEY,
    site_id                BLOB    NOT NULL REFERENCES site (id),
    kind                   TEXT    NOT NULL,
    name                   TEXT    NOT NULL,
    -- the label's dilution, concentrate + water, e.g. 1+9; 1+0 is used as it comes
    parts_concentrate      INTEGER NOT NULL,
    parts_water            INTEGER NOT NULL,
    distilled_water        INTEGER NOT NULL DEFAULT 0,
    capacity_mm2_per_l     INTEGER,
    tray_life_ms           INTEGER,
    -- a fixer's working limit for silver, micrograms per litre
    silver_limit_ug_per_l  INTEGER,
    hazards                TEXT    NOT NULL DEFAULT '',
    data_sheet             TEXT    NOT NULL DEFAULT '',
    figures_from           TEXT    NOT NULL DEFAULT '',
    put_away_at            INTEGER,
    version                INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT product_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT product_kind_known CHECK (kind IN ('developer', 'stop bath', 'fixer', 'washing aid')),
    CONSTRAINT product_name_length CHECK (length(name) BETWEEN 1 AND 120),
    CONSTRAINT product_parts_range CHECK (parts_concentrate BETWEEN 1 AND 1000 AND parts_water BETWEEN 0 AND 1000),
    CONSTRAINT product_distilled_is_flag CHECK (distilled_water IN (0, 1)),
    CONSTRAINT product_capacity_positive CHECK (capacity_mm2_per_l IS NULL OR capacity_mm2_per_l > 0),
    CONSTRAINT product_tray_life_positive CHECK (tray_life_ms IS NULL OR tray_life_ms > 0),
    CONSTRAINT product_silver_limit_positive CHECK (silver_limit_ug_per_l IS NULL OR silver_limit_ug_per_l > 0)
) STRICT;

-- ---------------------------------------------------------------- sections and their people

CREATE TABLE section (
    id         BLOB    NOT NULL PRIMARY KEY,
    site_id    BLOB    NOT NULL REFERENCES site (id),
    name       TEXT    NOT NULL,
    door_code  TEXT    NOT NULL UNIQUE,
    walk_ins   INTEGER NOT NULL DEFAULT 0,
    created_at INTEGER NOT NULL,
    version    INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT section_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT section_name_length CHECK (length(name) BETWEEN 1 AND 120),
    CONSTRAINT section_door_code_form CHECK (length(door_code) BETWEEN 4 AND 12 AND door_code = upper(door_code)),
    CONSTRAINT section_walk_ins_is_flag CHECK (walk_ins IN (0, 1))
) STRICT;

CREATE TABLE student (
    id            BLOB    NOT NULL PRIMARY KEY,
    section_id    BLOB    NOT NULL REFERENCES section (id),
    roster_number TEXT    NOT NULL,
    name          TEXT    NOT NULL,
    email         TEXT    NOT NULL DEFAULT '',
    walk_in       INTEGER NOT NULL DEFAULT 0,
    -- hash of the four words; NULL until the student joins
    seat_key_hash BLOB    UNIQUE,
    joined_at     INTEGER,
    -- struck off the roster: kept, because records name them
    left_at       INTEGER,
    units         TEXT    NOT NULL DEFAULT 'metric',
    created_at    INTEGER NOT NULL,
    version       INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT student_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT student_roster_number_length CHECK (length(roster_number) BETWEEN 1 AND 40),
    CONSTRAINT student_name_length CHECK (length(name) BETWEEN 1 AND 120),
    CONSTRAINT student_key_when_joined CHECK ((seat_key_hash IS NULL) = (joined_at IS NULL)),
    CONSTRAINT student_walk_in_is_flag CHECK (walk_in IN (0, 1)),
    CONSTRAINT student_units_known CHECK (units IN ('metric', 'inch')),
    UNIQUE (section_id, roster_number)
) STRICT;

CREATE TABLE sign_in (
    token_hash BLOB    NOT NULL PRIMARY KEY,
    account_id BLOB    REFERENCES account (id),
    student_id BLOB    REFERENCES student (id),
    -- 1: a lab computer everyone uses; it leaves by itself after fifteen idle minutes
    shared     INTEGER NOT NULL,
    began_at   INTEGER NOT NULL,
    seen_at    INTEGER NOT NULL,
    ended_at   INTEGER,
    CONSTRAINT sign_in_hash_is_sha256 CHECK (length(token_hash) = 32),
    CONSTRAINT sign_in_names_one_person CHECK ((account_id IS NULL) <> (student_id IS NULL)),
    CONSTRAINT sign_in_shared_is_flag CHECK (shared IN (0, 1))
) STRICT;
CREATE INDEX sign_in_by_student ON sign_in (student_id);
CREATE INDEX sign_in_by_account ON sign_in (account_id);

-- ---------------------------------------------------------------- chemistry in use

CREATE TABLE tray_line (
    id          BLOB    NOT NULL PRIMARY KEY,
    site_id     BLOB    NOT NULL REFERENCES site (id),
    name        TEXT    NOT NULL,
    put_away_at INTEGER,
    version     INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT tray_line_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT tray_line_name_length CHECK (length(name) BETWEEN 1 AND 120)
) STRICT;

CREATE TABLE waste_container (
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
    created_at    INTEGER NOT NULL,
    version       INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT waste_container_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT waste_container_contents_known CHECK (contents IN
        ('spent fixer', 'first rinse', 'developer', 'stop bath', 'mixed')),
    CONSTRAINT waste_container_capacity_positive CHECK (capacity_ul > 0),
    CONSTRAINT waste_container_state_known CHECK (state IN ('filling', 'full', 'removed')),
    CONSTRAINT waste_container_state_dated CHECK (
        (state <> 'full' OR full_at IS NOT NULL) AND ((state = 'removed') = (removed_at IS NOT NULL))),
    UNIQUE (site_id, label_number)
) STRICT;

CREATE TABLE batch (
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
    tray_life_ms          INTEGER,
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
    CONSTRAINT batch_kind_known CHECK (kind IN ('developer', 'stop bath', 'fixer', 'washing aid')),
    CONSTRAINT batch_volume_positive CHECK (volume_ul > 0),
    CONSTRAINT batch_state_known CHECK (state IN ('in use', 'retired')),
    CONSTRAINT batch_state_dated CHECK ((state = 'retired') = (retired_at IS NOT NULL)),
    UNIQUE (site_id, label_number)
) STRICT;

-- Which batch stood in which tray, from when to when.
CREATE TABLE tray_slot (
    id           BLOB    NOT NULL PRIMARY KEY,
    tray_line_id BLOB    NOT NULL REFERENCES tray_line (id),
    slot         TEXT    NOT NULL,
    batch_id     BLOB    NOT NULL REFERENCES batch (id),
    from_at      INTEGER NOT NULL,
    to_at        INTEGER,
    CONSTRAINT tray_slot_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT tray_slot_known CHECK (slot IN ('developer', 'stop bath', 'fixer', 'second fixer', 'washing aid')),
    CONSTRAINT tray_slot_ordered CHECK (to_at IS NULL OR to_at >= from_at)
) STRICT;
CREATE UNIQUE INDEX tray_slot_one_batch_at_a_time ON tray_slot (tray_line_id, slot) WHERE to_at IS NULL;
CREATE UNIQUE INDEX tray_slot_batch_in_one_tray ON tray_slot (batch_id) WHERE to_at IS NULL;

-- ---------------------------------------------------------------- the lab session

CREATE TABLE rubric (
    id      BLOB    NOT NULL PRIMARY KEY,
    site_id BLOB    NOT NULL REFERENCES site (id),
    name    TEXT    NOT NULL,
    version INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT rubric_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT rubric_name_length CHECK (length(name) BETWEEN 1 AND 120)
) STRICT;

CREATE TABLE criterion (
    id          BLOB    NOT NULL PRIMARY KEY,
    rubric_id   BLOB    NOT NULL REFERENCES rubric (id),
    position    INTEGER NOT NULL,
    name        TEXT    NOT NULL,
    description TEXT    NOT NULL DEFAULT '',
    -- points in thousandths, so that halves add up exactly
    max_milli   INTEGER NOT NULL,
    removed_at  INTEGER,
    CONSTRAINT criterion_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT criterion_name_length CHECK (length(name) BETWEEN 1 AND 120),
    CONSTRAINT criterion_max_range CHECK (max_milli BETWEEN 1 AND 1000000)
) STRICT;
CREATE UNIQUE INDEX criterion_name_once ON criterion (rubric_id, name) WHERE removed_at IS NULL;

CREATE TABLE lab_session (
    id                  BLOB    NOT NULL PRIMARY KEY,
    section_id          BLOB    NOT NULL REFERENCES section (id),
    title               TEXT    NOT NULL,
    held_on             TEXT    NOT NULL,
    hole_constant_milli INTEGER NOT NULL DEFAULT 1900,
    wavelength_nm       INTEGER NOT NULL DEFAULT 550,
    paper_id            BLOB    NOT NULL REFERENCES paper (id),
    tray_line_id        BLOB    REFERENCES tray_line (id),
    rubric_id           BLOB    REFERENCES rubric (id),
    report_task         TEXT    NOT NULL DEFAULT '',
    state               TEXT    NOT NULL DEFAULT 'planned',
    opened_at           INTEGER,
    closed_at           INTEGER,
    created_at          INTEGER NOT NULL,
    version             INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT lab_session_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT lab_session_title_length CHECK (length(title) BETWEEN 1 AND 120),
    CONSTRAINT lab_session_held_on_form CHECK (held_on GLOB '[0-9][0-9][0-9][0-9]-[0-9][0-9]-[0-9][0-9]'),
    CONSTRAINT lab_session_constant_range CHECK (hole_constant_milli BETWEEN 500 AND 3000),
    CONSTRAINT lab_session_wavelength_range CHECK (wavelength_nm BETWEEN 300 AND 1100),
    CONSTRAINT lab_session_state_known CHECK (state IN ('planned', 'open', 'closed')),
    CONSTRAINT lab_session_state_dated CHECK (
        (state = 'planned' AND opened_at IS NULL AND closed_at IS NULL)
        OR (state = 'open' AND opened_at IS NOT NULL AND closed_at IS NULL)
        OR (state = 'closed' AND opened_at IS NOT NULL AND closed_at IS NOT NULL))
) STRICT;
CREATE INDEX lab_session_by_section ON lab_session (section_id);
-- students work in one session at a time
CREATE UNIQUE INDEX lab_session_one_open ON lab_session (section_id) WHERE state = 'open';

-- ---------------------------------------------------------------- cameras and holes

CREATE TABLE camera (
    id                  BLOB    NOT NULL PRIMARY KEY,
    section_id          BLOB    NOT NULL REFERENCES section (id),
    -- the number written on the box
    number              INTEGER NOT NULL,
    build               TEXT    NOT NULL,
    film_form           TEXT    NOT NULL,
    -- flat film: hole to film; curved film: the can's inside diameter, which is the same distance
    distance_nm         INTEGER NOT NULL,
    distance_typed      TEXT    NOT NULL,
    film_width_nm       INTEGER,
    film_width_typed    TEXT,
    film_height_nm      INTEGER,
    film_height_typed   TEXT,
    film_diameter_nm    INTEGER,
    film_diameter_typed TEXT,
    subject_nm          INTEGER,
    subject_typed       TEXT,
    remark              TEXT    NOT NULL DEFAULT '',
    created_at          INTEGER NOT NULL,
    version             INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT camera_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT camera_build_known CHECK (build IN ('box', 'end-hole can', 'side-hole can', 'body cap')),
    CONSTRAINT camera_film_form_known CHECK (film_form IN ('flat rectangle', 'flat disc', 'curved')),
    CONSTRAINT camera_build_matches_film CHECK ((build = 'side-hole can') = (film_form = 'curved')
        AND (film_form <> 'flat disc' OR build = 'end-hole can')),
    CONSTRAINT camera_distance_range CHECK (distance_nm BETWEEN 5000000 AND 5000000000),
    CONSTRAINT camera_film_measured CHECK (
        (film_form = 'flat disc' AND film_diameter_nm > 0 AND film_width_nm IS NULL AND film_height_nm IS NULL)
        OR (film_form <> 'flat disc' AND film_diameter_nm IS NULL AND film_width_nm > 0 AND film_height_nm > 0)),
    UNIQUE (section_id, number)
) STRICT;

CREATE TABLE camera_student (
    camera_id  BLOB    NOT NULL REFERENCES camera (id),
    student_id BLOB    NOT NULL REFERENCES student (id),
    from_at    INTEGER NOT NULL,
    to_at      INTEGER,
    PRIMARY KEY (camera_id, student_id, from_at),
    CONSTRAINT camera_student_ordered CHECK (to_at IS NULL OR to_at >= from_at)
) STRICT, WITHOUT ROWID;
CREATE UNIQUE INDEX camera_student_one_camera ON camera_student (student_id) WHERE to_at IS NULL;

CREATE TABLE hole (
    id                 BLOB    NOT NULL PRIMARY KEY,
    camera_id          BLOB    NOT NULL REFERENCES camera (id),
    diameter_nm        INTEGER NOT NULL,
    uncertainty_nm     INTEGER NOT NULL,
    ovalness_milli     INTEGER NOT NULL,
    instrument_nm      INTEGER NOT NULL,
    instrument_typed   TEXT    NOT NULL,
    remark             TEXT    NOT NULL DEFAULT '',
    measured_at        INTEGER NOT NULL,
    recorded_by        BLOB    NOT NULL,
    version            INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT hole_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT hole_diameter_range CHECK (diameter_nm BETWEEN 10000 AND 20000000),
    CONSTRAINT hole_uncertainty_not_negative CHECK (uncertainty_nm >= 0 AND instrument_nm >= 0)
) STRICT;
CREATE INDEX hole_by_camera ON hole (camera_id);

CREATE TABLE hole_reading (
    hole_id     BLOB    NOT NULL REFERENCES hole (id) ON DELETE CASCADE,
    ordinal     INTEGER NOT NULL,
    diameter_nm INTEGER NOT NULL,
    typed       TEXT    NOT NULL,
    PRIMARY KEY (hole_id, ordinal),
    CONSTRAINT hole_reading_range CHECK (diameter_nm BETWEEN 10000 AND 20000000)
) STRICT, WITHOUT ROWID;

-- ---------------------------------------------------------------- exposures and prints

CREATE TABLE exposure (
    id                BLOB    NOT NULL PRIMARY KEY,
    -- the number on the sheet's back, counted within the section
    number            INTEGER NOT NULL,
    section_id        BLOB    NOT NULL REFERENCES section (id),
    lab_session_id    BLOB    NOT NULL REFERENCES lab_session (id),
    camera_id         BLOB    NOT NULL REFERENCES camera (id),
    hole_id           BLOB    NOT NULL REFERENCES hole (id),
    student_id        BLOB    REFERENCES student (id),
    paper_id          BLOB    NOT NULL REFERENCES paper (id),
    sheet_width_nm    INTEGER NOT NULL,
    sheet_height_nm   INTEGER NOT NULL,
    sheet_typed       TEXT    NOT NULL,
    -- the light as found when the shutter was open
    light_source      TEXT    NOT NULL,
    light_typed       TEXT    NOT NULL,
    ev100_milli       INTEGER NOT NULL,
    light_sd_milli    INTEGER NOT NULL,
    -- what the forecast used and said
    exposure_index_milli     INTEGER NOT NULL,
    reciprocity_milli        INTEGER NOT NULL,
    reciprocity_threshold_ms INTEGER NOT NULL,
    -- the camera as it was then: it may be measured anew, or altered, later
    hole_to_film_nm   INTEGER NOT NULL,
    hole_diameter_nm  INTEGER NOT NULL,
    f_number_milli    INTEGER NOT NULL,
    -- metered time without experience; forecast with it, as shown
    base_ms           INTEGER NOT NULL,
    forecast_ms       INTEGER NOT NULL,
    forecast_low_ms   INTEGER NOT NULL,
    forecast_high_ms  INTEGER NOT NULL,
    based_on          INTEGER NOT NULL,
    -- what was done
    made_ms           INTEGER NOT NULL,
    made_at           INTEGER NOT NULL,
    -- how it came out; NULL until judged
    verdict           TEXT,
    result_stops_milli INTEGER,
    result_source     TEXT,
    -- why it teaches nothing: fog, leak, movement … ; NULL when it does
    fault             TEXT,
    judged_at         INTEGER,
    remark            TEXT    NOT NULL DEFAULT '',
    recorded_by       BLOB    NOT NULL,
    recorded_at       INTEGER NOT NULL,
    version           INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT exposure_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT exposure_sheet_range CHECK (sheet_width_nm BETWEEN 5000000 AND 2000000000
        AND sheet_height_nm BETWEEN 5000000 AND 2000000000),
    CONSTRAINT exposure_light_source_known CHECK (light_source IN ('sky', 'reflected', 'lux')),
    CONSTRAINT exposure_times_positive CHECK (base_ms > 0 AND forecast_low_ms > 0
        AND forecast_low_ms <= forecast_ms AND forecast_ms <= forecast_high_ms AND made_ms > 0),
    CONSTRAINT exposure_verdict_known CHECK (verdict IS NULL OR verdict IN
        ('much too pale', 'too pale', 'a little pale', 'right', 'a little dark', 'too dark', 'much too dark',
         'all white', 'all black', 'stops given')),
    CONSTRAINT exposure_verdict_dated CHECK ((verdict IS NULL) = (judged_at IS NULL)),
    CONSTRAINT exposure_result_has_source CHECK ((result_stops_milli IS NULL) = (result_source IS NULL)),
    CONSTRAINT exposure_result_source_known CHECK (result_source IS NULL OR result_source IN ('eye', 'scan')),
    CONSTRAINT exposure_result_range CHECK (result_stops_milli IS NULL OR result_stops_milli BETWEEN -8000 AND 8000),
    CONSTRAINT exposure_fault_known CHECK (fault IS NULL OR fault IN ('fog', 'leak', 'movement', 'other')),
    UNIQUE (section_id, number)
) STRICT;
CREATE INDEX exposure_by_camera ON exposure (camera_id);
CREATE INDEX exposure_by_session ON exposure (lab_session_id);

-- A contact print made from an exposure's negative.
CREATE TABLE print (
    id              BLOB    NOT NULL PRIMARY KEY,
    lab_session_id  BLOB    NOT NULL REFERENCES lab_session (id),
    exposure_id     BLOB    NOT NULL REFERENCES exposure (id),
    student_id      BLOB    REFERENCES student (id),
    paper_id        BLOB    NOT NULL REFERENCES paper (id),
    sheet_width_nm  INTEGER NOT NULL,
    sheet_height_nm INTEGER NOT NULL,
    sheet_typed     TEXT    NOT NULL,
    light           TEXT    NOT NULL DEFAULT '',
    made_ms         INTEGER NOT NULL,
    made_at         INTEGER NOT NULL,
    verdict         TEXT,
    remark          TEXT    NOT NULL DEFAULT '',
    recorded_by     BLOB    NOT NULL,
    recorded_at     INTEGER NOT NULL,
    version         INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT print_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT print_time_positive CHECK (made_ms > 0),
    CONSTRAINT print_verdict_known CHECK (verdict IS NULL OR verdict IN ('too pale', 'right', 'too dark'))
) STRICT;
CREATE INDEX print_by_exposure ON print (exposure_id);

-- ---------------------------------------------------------------- the silver book

-- What happened: the record that causes book entries. One movement, one or more entries.
CREATE TABLE movement (
    id           BLOB    NOT NULL PRIMARY KEY,
    site_id      BLOB    NOT NULL REFERENCES site (id),
    kind         TEXT    NOT NULL,
    happened_at  INTEGER NOT NULL,
    recorded_at  INTEGER NOT NULL,
    recorded_by  BLOB    NOT NULL,
    remark       TEXT    NOT NULL DEFAULT '',
    CONSTRAINT movement_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT movement_kind_known CHECK (kind IN ('mixing', 'opening', 'sheet', 'retiring', 'topping up',
        'pouring', 'spill', 'sample', 'evaporation', 'measuring', 'reading', 'discharge', 'recovery',
        'removal', 'reversal'))
) STRICT;

CREATE TABLE book_entry (
    entry          INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    site_id        BLOB    NOT NULL REFERENCES site (id),
    movement_id    BLOB    NOT NULL REFERENCES movement (id),
    happened_at    INTEGER NOT NULL,
    recorded_at    INTEGER NOT NULL,
    kind           TEXT    NOT NULL,
    from_account   TEXT    NOT NULL,
    from_batch     BLOB    REFERENCES batch (id),
    from_container BLOB    REFERENCES waste_container (id),
    to_account     TEXT    NOT NULL,
    to_batch       BLOB    REFERENCES batch (id),
    to_container   BLOB    REFERENCES waste_container (id),
    volume_ul      INTEGER NOT NULL,
    silver_ug      INTEGER NOT NULL,
    silver_low_ug  INTEGER NOT NULL,
    silver_high_ug INTEGER NOT NULL,
    basis          TEXT    NOT NULL,
    reverses       INTEGER UNIQUE REFERENCES book_entry (entry),
    recorded_by    BLOB    NOT NULL,
    remark         TEXT    NOT NULL DEFAULT '',
    CONSTRAINT book_entry_from_known CHECK (from_account IN
        ('mixed', 'water', 'paper', 'opening', 'batch', 'container',
         'wash', 'recovered', 'removed', 'discharged', 'written off')),
    CONSTRAINT book_entry_to_known CHECK (to_account IN
        ('mixed', 'water', 'paper', 'opening', 'batch', 'container',
         'wash', 'recovered', 'removed', 'discharged', 'written off')),
    CONSTRAINT book_entry_from_named CHECK ((from_account = 'batch') = (from_batch IS NOT NULL)
        AND (from_account = 'container') = (from_container IS NOT NULL)),
    CONSTRAINT book_entry_to_named CHECK ((to_account = 'batch') = (to_batch IS NOT NULL)
        AND (to_account = 'container') = (to_container IS NOT NULL)),
    CONSTRAINT book_entry_volume_not_negative CHECK (volume_ul >= 0),
    CONSTRAINT book_entry_silver_not_negative CHECK (silver_ug >= 0 AND silver_low_ug >= 0 AND silver_high_ug >= 0)
) STRICT;
CREATE INDEX book_entry_from_batch ON book_entry (from_batch) WHERE from_batch IS NOT NULL;
CREATE INDEX book_entry_to_batch ON book_entry (to_batch) WHERE to_batch IS NOT NULL;
CREATE INDEX book_entry_from_container ON book_entry (from_container) WHERE from_container IS NOT NULL;
CREATE INDEX book_entry_to_container ON book_entry (to_container) WHERE to_container IS NOT NULL;
CREATE INDEX book_entry_by_movement ON book_entry (movement_id);

CREATE TRIGGER book_entry_is_never_changed BEFORE UPDATE ON book_entry
BEGIN SELECT RAISE(ABORT, 'the silver book is append-only: book a reversing entry'); END;
CREATE TRIGGER book_entry_is_never_deleted BEFORE DELETE ON book_entry
BEGIN SELECT RAISE(ABORT, 'the silver book is append-only: book a reversing entry'); END;
CREATE TRIGGER movement_is_never_changed BEFORE UPDATE ON movement
BEGIN SELECT RAISE(ABORT, 'a movement is append-only: book a reversal'); END;
CREATE TRIGGER movement_is_never_deleted BEFORE DELETE ON movement
BEGIN SELECT RAISE(ABORT, 'a movement is append-only: book a reversal'); END;

-- A sheet of paper or film put through a tray line: what loads the batches.
CREATE TABLE sheet_run (
    id           BLOB    NOT NULL PRIMARY KEY,
    site_id      BLOB    NOT NULL REFERENCES site (id),
    lab_session_id BLOB  REFERENCES lab_session (id),
    tray_line_id BLOB    NOT NULL REFERENCES tray_line (id),
    paper_id     BLOB    NOT NULL REFERENCES paper (id),
    exposure_id  BLOB    REFERENCES exposure (id),
    print_id     BLOB    REFERENCES print (id),
    student_id   BLOB    REFERENCES student (id),
    what         TEXT    NOT NULL,
    sheets       INTEGER NOT NULL DEFAULT 1,
    area_mm2     INTEGER NOT NULL,
    developed_at INTEGER NOT NULL,
    -- NULL when no fixer stood in the line: then nothing was booked
    movement_id  BLOB    UNIQUE REFERENCES movement (id),
    -- taken back by a reversal: it no longer loads its batches
    undone_at    INTEGER,
    recorded_by  BLOB    NOT NULL,
    recorded_at  INTEGER NOT NULL,
    CONSTRAINT sheet_run_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT sheet_run_what_known CHECK (what IN ('negative', 'print', 'test strip', 'other')),
    CONSTRAINT sheet_run_names_its_sheet CHECK ((what = 'negative') = (exposure_id IS NOT NULL)
        AND (what = 'print') = (print_id IS NOT NULL)),
    CONSTRAINT sheet_run_sheets_range CHECK (sheets BETWEEN 1 AND 1000),
    CONSTRAINT sheet_run_area_positive CHECK (area_mm2 > 0)
) STRICT;
CREATE UNIQUE INDEX sheet_run_exposure_once ON sheet_run (exposure_id) WHERE exposure_id IS NOT NULL AND undone_at IS NULL;
CREATE UNIQUE INDEX sheet_run_print_once ON sheet_run (print_id) WHERE print_id IS NOT NULL AND undone_at IS NULL;

CREATE TABLE sheet_run_batch (
    sheet_run_id BLOB NOT NULL REFERENCES sheet_run (id),
    slot         TEXT NOT NULL,
    batch_id     BLOB NOT NULL REFERENCES batch (id),
    PRIMARY KEY (sheet_run_id, slot)
) STRICT, WITHOUT ROWID;
CREATE INDEX sheet_run_batch_by_batch ON sheet_run_batch (batch_id);

-- A reading of the silver in a store: estimating paper or a laboratory.
CREATE TABLE silver_reading (
    id            BLOB    NOT NULL PRIMARY KEY,
    movement_id   BLOB    NOT NULL UNIQUE REFERENCES movement (id),
    batch_id      BLOB    REFERENCES batch (id),
    container_id  BLOB    REFERENCES waste_container (id),
    method        TEXT    NOT NULL,
    ug_per_l      INTEGER NOT NULL,
    low_ug_per_l  INTEGER NOT NULL,
    high_ug_per_l INTEGER NOT NULL,
    book_ug       INTEGER NOT NULL,
    CONSTRAINT silver_reading_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT silver_reading_names_one_store CHECK ((batch_id IS NULL) <> (container_id IS NULL)),
    CONSTRAINT silver_reading_method_known CHECK (method IN ('silver estimating paper', 'laboratory')),
    CONSTRAINT silver_reading_ordered CHECK (0 <= low_ug_per_l AND low_ug_per_l <= ug_per_l AND ug_per_l <= high_ug_per_l)
) STRICT;

CREATE TABLE removal (
    id               BLOB    NOT NULL PRIMARY KEY,
    movement_id      BLOB    NOT NULL UNIQUE REFERENCES movement (id),
    container_id     BLOB    NOT NULL REFERENCES waste_container (id),
    carrier          TEXT    NOT NULL,
    destination      TEXT    NOT NULL,
    reference        TEXT    NOT NULL,
    mass_g           INTEGER,
    removed_at       INTEGER NOT NULL,
    copy_returned_on TEXT,
    undone_at        INTEGER,
    version          INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT removal_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT removal_fields_given CHECK (length(carrier) > 0 AND length(destination) > 0 AND length(reference) > 0),
    CONSTRAINT removal_mass_positive CHECK (mass_g IS NULL OR mass_g > 0)
) STRICT;
CREATE UNIQUE INDEX removal_once ON removal (container_id) WHERE undone_at IS NULL;

-- Let go by staff under somebody's authority; the software never proposes it.
CREATE TABLE discharge (
    id          BLOB NOT NULL PRIMARY KEY,
    movement_id BLOB NOT NULL UNIQUE REFERENCES movement (id),
    authority   TEXT NOT NULL,
    CONSTRAINT discharge_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT discharge_names_authority CHECK (length(trim(authority)) > 0)
) STRICT;

-- ---------------------------------------------------------------- reports and marks

CREATE TABLE report (
    id             BLOB    NOT NULL PRIMARY KEY,
    lab_session_id BLOB    NOT NULL REFERENCES lab_session (id),
    student_id     BLOB    NOT NULL REFERENCES student (id),
    body           TEXT    NOT NULL,
    state          TEXT    NOT NULL DEFAULT 'draft',
    submitted_at   INTEGER,
    saved_at       INTEGER NOT NULL,
    version        INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT report_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT report_body_length CHECK (length(body) <= 40000),
    CONSTRAINT report_state_known CHECK (state IN ('draft', 'submitted')),
    CONSTRAINT report_state_dated CHECK ((state = 'submitted') = (submitted_at IS NOT NULL)),
    UNIQUE (lab_session_id, student_id)
) STRICT;

CREATE TABLE mark (
    lab_session_id BLOB    NOT NULL REFERENCES lab_session (id),
    student_id     BLOB    NOT NULL REFERENCES student (id),
    criterion_id   BLOB    NOT NULL REFERENCES criterion (id),
    points_milli   INTEGER,
    comment        TEXT    NOT NULL DEFAULT '',
    marked_by      BLOB    NOT NULL,
    marked_at      INTEGER NOT NULL,
    version        INTEGER NOT NULL DEFAULT 1,
    PRIMARY KEY (lab_session_id, student_id, criterion_id),
    CONSTRAINT mark_points_not_negative CHECK (points_milli IS NULL OR points_milli >= 0)
) STRICT, WITHOUT ROWID;

-- One student's marks in one session as a whole: the comment on all, and whether it was given back.
CREATE TABLE mark_sheet (
    lab_session_id BLOB    NOT NULL REFERENCES lab_session (id),
    student_id     BLOB    NOT NULL REFERENCES student (id),
    comment        TEXT    NOT NULL DEFAULT '',
    released_at    INTEGER,
    released_by    BLOB,
    -- stays when it is taken back: what the student may have seen is not changed silently
    first_released_at INTEGER,
    marked_by      BLOB,
    marked_at      INTEGER,
    -- counts edits of the comment; giving back is no edit
    version        INTEGER NOT NULL DEFAULT 1,
    PRIMARY KEY (lab_session_id, student_id),
    CONSTRAINT mark_sheet_release_signed CHECK ((released_at IS NULL) = (released_by IS NULL)),
    CONSTRAINT mark_sheet_first_release_kept CHECK (released_at IS NULL OR first_released_at IS NOT NULL)
) STRICT, WITHOUT ROWID;

-- What was changed after the student may have seen it. criterion_id NULL is the comment on all.
CREATE TABLE mark_change (
    id               INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    lab_session_id   BLOB    NOT NULL REFERENCES lab_session (id),
    student_id       BLOB    NOT NULL REFERENCES student (id),
    criterion_id     BLOB    REFERENCES criterion (id),
    was_points_milli INTEGER,
    now_points_milli INTEGER,
    comment_changed  INTEGER NOT NULL,
    changed_by       BLOB    NOT NULL,
    changed_at       INTEGER NOT NULL,
    CONSTRAINT mark_change_comment_is_flag CHECK (comment_changed IN (0, 1))
) STRICT;
CREATE INDEX mark_change_by_sheet ON mark_change (lab_session_id, student_id);

-- ---------------------------------------------------------------- what was sent, what was changed

-- One row for each form that was acted on: the same form again gets the same answer.
CREATE TABLE receipt (
    form_id   BLOB    NOT NULL PRIMARY KEY,
    actor     BLOB    NOT NULL,
    route     TEXT    NOT NULL,
    body_hash BLOB    NOT NULL,
    led_to    TEXT    NOT NULL,
    at        INTEGER NOT NULL,
    CONSTRAINT receipt_form_id_is_uuid CHECK (length(form_id) = 16)
) STRICT;
CREATE INDEX receipt_by_time ON receipt (at);

-- Who changed what, by person id, never by name.
CREATE TABLE change_log (
    id         INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
    at         INTEGER NOT NULL,
    actor_kind TEXT    NOT NULL,
    actor_id   BLOB,
    what       TEXT    NOT NULL,
    subject    TEXT    NOT NULL,
    subject_id BLOB,
    detail     TEXT    NOT NULL DEFAULT '',
    CONSTRAINT change_log_actor_kind_known CHECK (actor_kind IN ('staff', 'student', 'visitor', 'server')),
    CONSTRAINT change_log_actor_named CHECK ((actor_kind IN ('staff', 'student')) = (actor_id IS NOT NULL))
) STRICT;
CREATE INDEX change_log_by_subject ON change_log (subject_id);
CREATE INDEX change_log_by_actor ON change_log (actor_id);
