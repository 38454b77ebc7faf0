-- Light from the sun's height, papers by their makers' figures, sheets taken back, and experience
-- that an instructor can look into and put right.

-- Where the site is, so that the sun's height is known; NULL until somebody enters it.
-- Millionths of a degree, north and east positive; metres above the sea.
ALTER TABLE site ADD COLUMN latitude_udeg INTEGER
    CONSTRAINT site_latitude_range CHECK (latitude_udeg BETWEEN -90000000 AND 90000000);
ALTER TABLE site ADD COLUMN longitude_udeg INTEGER
    CONSTRAINT site_longitude_range CHECK (longitude_udeg BETWEEN -180000000 AND 180000000
        AND (longitude_udeg IS NULL) = (latitude_udeg IS NULL));
ALTER TABLE site ADD COLUMN elevation_m INTEGER NOT NULL DEFAULT 0
    CONSTRAINT site_elevation_range CHECK (elevation_m BETWEEN -500 AND 9000);

-- The speed the maker gives, from which the exposure index may be worked out.
ALTER TABLE paper ADD COLUMN iso_speed_milli INTEGER
    CONSTRAINT paper_iso_speed_range CHECK (iso_speed_milli BETWEEN 1000 AND 10000000);
ALTER TABLE paper ADD COLUMN daylight_factor_milli INTEGER NOT NULL DEFAULT 1000
    CONSTRAINT paper_daylight_factor_range CHECK (daylight_factor_milli BETWEEN 100 AND 20000);
-- What the exposure index rests on, in words; empty: it was typed in.
ALTER TABLE paper ADD COLUMN index_from TEXT NOT NULL DEFAULT '';
-- The maker's reciprocity table, metered=corrected in milliseconds: '1000=1000 10000=15000'; empty: the
-- exponent counts.
ALTER TABLE paper ADD COLUMN reciprocity_table TEXT NOT NULL DEFAULT '';

-- Sheets: light may come from the sun's height; what the forecast aimed for; sheets taken back.
CREATE TABLE exposure_with_aim (
    id                BLOB    NOT NULL PRIMARY KEY,
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
    light_source      TEXT    NOT NULL,
    light_typed       TEXT    NOT NULL,
    ev100_milli       INTEGER NOT NULL,
    light_sd_milli    INTEGER NOT NULL,
    exposure_index_milli     INTEGER NOT NULL,
    reciprocity_milli        INTEGER NOT NULL,
    reciprocity_threshold_ms INTEGER NOT NULL,
    hole_to_film_nm   INTEGER NOT NULL,
    hole_diameter_nm  INTEGER NOT NULL,
    f_number_milli    INTEGER NOT NULL,
    base_ms           INTEGER NOT NULL,
    forecast_ms       INTEGER NOT NULL,
    forecast_low_ms   INTEGER NOT NULL,
    forecast_high_ms  INTEGER NOT NULL,
    based_on          INTEGER NOT NULL,
    made_ms           INTEGER NOT NULL,
    made_at           INTEGER NOT NULL,
    verdict           TEXT,
    result_stops_milli INTEGER,
    result_source     TEXT,
    fault             TEXT,
    judged_at         INTEGER,
    remark            TEXT    NOT NULL DEFAULT '',
    recorded_by       BLOB    NOT NULL,
    recorded_at       INTEGER NOT NULL,
    version           INTEGER NOT NULL DEFAULT 1,
    -- the maker's table the forecast used, as on the paper's card; empty: the exponent
    reciprocity_table TEXT    NOT NULL DEFAULT '',
    -- where on the film it was exposed for, and the stops more that this asked for; part of base_ms
    aim               TEXT    NOT NULL DEFAULT '',
    aim_milli         INTEGER NOT NULL DEFAULT 0,
    -- stops less because a hole has no glass, where the index is one of a lens; part of base_ms
    gain_milli        INTEGER NOT NULL DEFAULT 0,
    -- what experience added, stops; NULL on sheets recorded before this was kept
    experience_milli  INTEGER,
    -- made by staff to show how it is done
    demonstration     INTEGER NOT NULL DEFAULT 0,
    -- recorded by mistake: kept, but counted nowhere
    taken_back_at     INTEGER,
    taken_back_by     BLOB,
    taken_back_why    TEXT    NOT NULL DEFAULT '',
    CONSTRAINT exposure_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT exposure_sheet_range CHECK (sheet_width_nm BETWEEN 5000000 AND 2000000000
        AND sheet_height_nm BETWEEN 5000000 AND 2000000000),
    CONSTRAINT exposure_light_source_known CHECK (light_source IN ('sky', 'sun', 'reflected', 'lux')),
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
    CONSTRAINT exposure_aim_range CHECK (aim_milli BETWEEN 0 AND 20000),
    CONSTRAINT exposure_demonstration_is_flag CHECK (demonstration IN (0, 1)),
    CONSTRAINT exposure_taken_back_signed CHECK ((taken_back_at IS NULL) = (taken_back_by IS NULL)),
    UNIQUE (section_id, number)
) STRICT;
INSERT INTO exposure_with_aim (id, number, section_id, lab_session_id, camera_id, hole_id, student_id, paper_id,
    sheet_width_nm, sheet_height_nm, sheet_typed, light_source, light_typed, ev100_milli, light_sd_milli,
    exposure_index_milli, reciprocity_milli, reciprocity_threshold_ms, hole_to_film_nm, hole_diameter_nm,
    f_number_milli, base_ms, forecast_ms, forecast_low_ms, forecast_high_ms, based_on, made_ms, made_at, verdict,
    result_stops_milli, result_source, fault, judged_at, remark, recorded_by, recorded_at, version)
SELECT id, number, section_id, lab_session_id, camera_id, hole_id, student_id, paper_id,
    sheet_width_nm, sheet_height_nm, sheet_typed, light_source, light_typed, ev100_milli, light_sd_milli,
    exposure_index_milli, reciprocity_milli, reciprocity_threshold_ms, hole_to_film_nm, hole_diameter_nm,
    f_number_milli, base_ms, forecast_ms, forecast_low_ms, forecast_high_ms, based_on, made_ms, made_at, verdict,
    result_stops_milli, result_source, fault, judged_at, remark, recorded_by, recorded_at, version
FROM exposure;
DROP TABLE exposure;
ALTER TABLE exposure_with_aim RENAME TO exposure;
CREATE INDEX exposure_by_camera ON exposure (camera_id);
CREATE INDEX exposure_by_session ON exposure (lab_session_id);
CREATE INDEX exposure_by_paper ON exposure (paper_id, made_at);

-- A new box of a paper: sheets made before it teach nothing about the sheets in it.
CREATE TABLE paper_box (
    id            BLOB    NOT NULL PRIMARY KEY,
    paper_id      BLOB    NOT NULL REFERENCES paper (id),
    begun_at      INTEGER NOT NULL,
    remark        TEXT    NOT NULL DEFAULT '',
    recorded_by   BLOB    NOT NULL,
    recorded_at   INTEGER NOT NULL,
    -- it was no new box after all
    taken_back_at INTEGER,
    taken_back_by BLOB,
    CONSTRAINT paper_box_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT paper_box_taken_back_signed CHECK ((taken_back_at IS NULL) = (taken_back_by IS NULL))
) STRICT;
CREATE INDEX paper_box_by_paper ON paper_box (paper_id, begun_at);

-- A sheet left out of experience, and why; the sheet itself stays as it is.
CREATE TABLE left_out (
    id            BLOB    NOT NULL PRIMARY KEY,
    exposure_id   BLOB    NOT NULL REFERENCES exposure (id),
    reason        TEXT    NOT NULL,
    left_out_by   BLOB    NOT NULL,
    left_out_at   INTEGER NOT NULL,
    -- it counts again
    taken_back_at INTEGER,
    taken_back_by BLOB,
    CONSTRAINT left_out_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT left_out_reason_length CHECK (length(reason) BETWEEN 1 AND 300),
    CONSTRAINT left_out_taken_back_signed CHECK ((taken_back_at IS NULL) = (taken_back_by IS NULL))
) STRICT;
CREATE UNIQUE INDEX left_out_once ON left_out (exposure_id) WHERE taken_back_at IS NULL;
