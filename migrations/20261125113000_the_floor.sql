-- The floor: where each sheet is on its way, who asks for help, what all benches are told.

-- One sheet of a camera on its way through the evening, from the loading to the judging. It ends
-- when it is judged, given up, or when the session closes.
CREATE TABLE sheet_way (
    id             BLOB    NOT NULL PRIMARY KEY,
    lab_session_id BLOB    NOT NULL REFERENCES lab_session (id),
    camera_id      BLOB    NOT NULL REFERENCES camera (id),
    place          TEXT    NOT NULL,
    since_at       INTEGER NOT NULL,
    begun_at       INTEGER NOT NULL,
    -- its record, once there is one
    exposure_id    BLOB    UNIQUE REFERENCES exposure (id),
    ended_at       INTEGER,
    version        INTEGER NOT NULL DEFAULT 1,
    CONSTRAINT sheet_way_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT sheet_way_place_known CHECK (place IN ('loading', 'outside', 'waiting for a place', 'in the trays')),
    CONSTRAINT sheet_way_ordered CHECK (begun_at <= since_at AND (ended_at IS NULL OR ended_at >= begun_at))
) STRICT;
CREATE INDEX sheet_way_by_session ON sheet_way (lab_session_id);
-- a camera holds one sheet at a time; others of it may be waiting or in the trays
CREATE UNIQUE INDEX sheet_way_one_in_camera ON sheet_way (camera_id)
    WHERE ended_at IS NULL AND place IN ('loading', 'outside');

-- A student asks for somebody to come, with a word why.
CREATE TABLE help_call (
    id             BLOB    NOT NULL PRIMARY KEY,
    lab_session_id BLOB    NOT NULL REFERENCES lab_session (id),
    student_id     BLOB    NOT NULL REFERENCES student (id),
    why            TEXT    NOT NULL,
    called_at      INTEGER NOT NULL,
    -- somebody came, or it was taken back
    ended_at       INTEGER,
    ended_by       BLOB,
    CONSTRAINT help_call_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT help_call_why_length CHECK (length(why) BETWEEN 1 AND 80),
    CONSTRAINT help_call_ended_by_somebody CHECK (ended_by IS NULL OR ended_at IS NOT NULL)
) STRICT;
CREATE INDEX help_call_by_session ON help_call (lab_session_id);
CREATE UNIQUE INDEX help_call_one_a_student ON help_call (student_id) WHERE ended_at IS NULL;

-- What all benches of a session are told: "lights on in two minutes".
CREATE TABLE announcement (
    id             BLOB    NOT NULL PRIMARY KEY,
    lab_session_id BLOB    NOT NULL REFERENCES lab_session (id),
    words          TEXT    NOT NULL,
    said_at        INTEGER NOT NULL,
    said_by        BLOB    NOT NULL,
    ended_at       INTEGER,
    CONSTRAINT announcement_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT announcement_words_length CHECK (length(words) BETWEEN 1 AND 160)
) STRICT;
CREATE UNIQUE INDEX announcement_one_at_a_time ON announcement (lab_session_id) WHERE ended_at IS NULL;
