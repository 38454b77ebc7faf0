-- Marks that follow from the work: criteria from the record, own figures, reports with questions
-- and pictures, what staff saw, identifiers for the college's own system, archived sections.

-- ---------------------------------------------------------------- criteria and marks

-- What of the record a criterion is judged by; NULL is by the marker's eye alone.
ALTER TABLE criterion ADD COLUMN from_record TEXT CONSTRAINT criterion_from_record_known CHECK (
    from_record IS NULL OR from_record IN ('own figures', 'hole', 'exposure', 'sheets entered',
        'chemistry entered', 'clean-up', 'report on time'));

-- What a number of points means, in words.
CREATE TABLE criterion_level (
    criterion_id BLOB    NOT NULL REFERENCES criterion (id),
    points_milli INTEGER NOT NULL,
    words        TEXT    NOT NULL,
    PRIMARY KEY (criterion_id, points_milli),
    CONSTRAINT criterion_level_points_not_negative CHECK (points_milli >= 0),
    CONSTRAINT criterion_level_words_length CHECK (length(words) BETWEEN 1 AND 400)
) STRICT, WITHOUT ROWID;

-- 1: this criterion does not count for this student; what it is out of shrinks with it.
ALTER TABLE mark ADD COLUMN left_out INTEGER NOT NULL DEFAULT 0 CONSTRAINT mark_left_out_is_flag CHECK (left_out IN (0, 1));
-- what the record suggested when the mark was given, and the evidence then; NULL without a suggestion
ALTER TABLE mark ADD COLUMN suggested_milli INTEGER;
ALTER TABLE mark ADD COLUMN evidence TEXT NOT NULL DEFAULT '';
-- why the marker gave something else than was suggested
ALTER TABLE mark ADD COLUMN reason TEXT NOT NULL DEFAULT '';

ALTER TABLE mark_sheet ADD COLUMN standing TEXT NOT NULL DEFAULT 'as usual' CONSTRAINT mark_sheet_standing_known CHECK (
    standing IN ('as usual', 'late', 'excused'));

-- Words that a marker uses often.
CREATE TABLE stock_phrase (
    account_id BLOB    NOT NULL REFERENCES account (id),
    words      TEXT    NOT NULL,
    kept_at    INTEGER NOT NULL,
    PRIMARY KEY (account_id, words),
    CONSTRAINT stock_phrase_length CHECK (length(words) BETWEEN 1 AND 400)
) STRICT, WITHOUT ROWID;

-- ---------------------------------------------------------------- what staff saw

-- Whether a hole is round, looked at by staff through a loupe or against the light.
CREATE TABLE hole_check (
    hole_id    BLOB    NOT NULL PRIMARY KEY REFERENCES hole (id) ON DELETE CASCADE,
    round      INTEGER NOT NULL,
    checked_by BLOB    NOT NULL,
    checked_at INTEGER NOT NULL,
    CONSTRAINT hole_check_round_is_flag CHECK (round IN (0, 1))
) STRICT;

CREATE TABLE clean_up (
    lab_session_id BLOB    NOT NULL REFERENCES lab_session (id),
    student_id     BLOB    NOT NULL REFERENCES student (id),
    took_part      INTEGER NOT NULL,
    witnessed_by   BLOB    NOT NULL,
    witnessed_at   INTEGER NOT NULL,
    PRIMARY KEY (lab_session_id, student_id),
    CONSTRAINT clean_up_took_part_is_flag CHECK (took_part IN (0, 1))
) STRICT, WITHOUT ROWID;

-- ---------------------------------------------------------------- own figures

-- A value that students of a session work out before the server shows its own.
CREATE TABLE own_figure_ask (
    lab_session_id  BLOB    NOT NULL REFERENCES lab_session (id),
    figure          TEXT    NOT NULL,
    -- how far off still counts as right, thousandths of the value
    tolerance_milli INTEGER NOT NULL,
    least_figures   INTEGER NOT NULL,
    most_figures    INTEGER NOT NULL,
    PRIMARY KEY (lab_session_id, figure),
    CONSTRAINT own_figure_ask_known CHECK (figure IN
        ('hole diameter', 'f-number', 'angle of view', 'exposure time', 'dilution', 'silver')),
    CONSTRAINT own_figure_ask_tolerance_range CHECK (tolerance_milli BETWEEN 1 AND 500),
    CONSTRAINT own_figure_ask_figures_ordered CHECK (1 <= least_figures AND least_figures <= most_figures AND most_figures <= 9)
) STRICT, WITHOUT ROWID;

-- One try: the question as it stood, the answer as typed, and what came of it.
CREATE TABLE own_figure (
    id              BLOB    NOT NULL PRIMARY KEY,
    lab_session_id  BLOB    NOT NULL REFERENCES lab_session (id),
    student_id      BLOB    NOT NULL REFERENCES student (id),
    figure          TEXT    NOT NULL,
    attempt         INTEGER NOT NULL,
    question        TEXT    NOT NULL,
    answer          TEXT    NOT NULL,
    unit            TEXT    NOT NULL,
    working         TEXT    NOT NULL DEFAULT '',
    -- the server's own value and how it came about, as they were then
    expected        TEXT    NOT NULL,
    expected_by     TEXT    NOT NULL,
    -- the answer over the value, less one, in millionths; held within a billion
    error_ppm       INTEGER NOT NULL,
    tolerance_milli INTEGER NOT NULL,
    standing        TEXT    NOT NULL,
    slip            TEXT    NOT NULL DEFAULT '',
    tried_at        INTEGER NOT NULL,
    CONSTRAINT own_figure_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT own_figure_attempt_range CHECK (attempt IN (1, 2)),
    CONSTRAINT own_figure_standing_known CHECK (standing IN ('right', 'too few figures', 'too many figures', 'off')),
    UNIQUE (lab_session_id, student_id, figure, attempt)
) STRICT;

-- ---------------------------------------------------------------- reports

ALTER TABLE lab_session ADD COLUMN report_due_at INTEGER;

CREATE TABLE report_question (
    id             BLOB    NOT NULL PRIMARY KEY,
    lab_session_id BLOB    NOT NULL REFERENCES lab_session (id),
    position       INTEGER NOT NULL,
    words          TEXT    NOT NULL,
    kind           TEXT    NOT NULL,
    -- of a number: what it is asked in
    unit           TEXT    NOT NULL DEFAULT '',
    removed_at     INTEGER,
    CONSTRAINT report_question_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT report_question_words_length CHECK (length(words) BETWEEN 1 AND 500),
    CONSTRAINT report_question_kind_known CHECK (kind IN ('text', 'number'))
) STRICT;
CREATE INDEX report_question_by_session ON report_question (lab_session_id);

CREATE TABLE report_answer (
    report_id   BLOB NOT NULL REFERENCES report (id),
    question_id BLOB NOT NULL REFERENCES report_question (id),
    answer      TEXT NOT NULL,
    PRIMARY KEY (report_id, question_id),
    CONSTRAINT report_answer_length CHECK (length(answer) <= 10000)
) STRICT, WITHOUT ROWID;

-- A picture in a report, decoded and encoded anew, so that nothing but the picture is in it.
CREATE TABLE report_picture (
    id          BLOB    NOT NULL PRIMARY KEY,
    report_id   BLOB    NOT NULL REFERENCES report (id),
    exposure_id BLOB    REFERENCES exposure (id),
    caption     TEXT    NOT NULL DEFAULT '',
    media_type  TEXT    NOT NULL,
    width_px    INTEGER NOT NULL,
    height_px   INTEGER NOT NULL,
    bytes       BLOB    NOT NULL,
    added_at    INTEGER NOT NULL,
    CONSTRAINT report_picture_id_is_uuid CHECK (length(id) = 16),
    CONSTRAINT report_picture_media_known CHECK (media_type IN ('image/jpeg', 'image/png')),
    CONSTRAINT report_picture_size CHECK (length(bytes) BETWEEN 1 AND 2097152),
    CONSTRAINT report_picture_caption_length CHECK (length(caption) <= 200)
) STRICT;
CREATE INDEX report_picture_by_report ON report_picture (report_id);

-- ---------------------------------------------------------------- identifiers of the college's own system

-- OneRoster's sourcedId of the person and of the class, as the roster brought them; '' without one
ALTER TABLE student ADD COLUMN user_identifier TEXT NOT NULL DEFAULT '';
ALTER TABLE student ADD COLUMN class_identifier TEXT NOT NULL DEFAULT '';

-- ---------------------------------------------------------------- archived sections

ALTER TABLE section ADD COLUMN archived_at INTEGER;
-- when its people were forgotten
ALTER TABLE section ADD COLUMN forgotten_at INTEGER;

-- An archived section can be read, not changed, whichever page asks for it.
CREATE TRIGGER student_archived_insert BEFORE INSERT ON student WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = NEW.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER student_archived_update BEFORE UPDATE ON student WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = OLD.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER student_archived_delete BEFORE DELETE ON student WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = OLD.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER lab_session_archived_insert BEFORE INSERT ON lab_session WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = NEW.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER lab_session_archived_update BEFORE UPDATE ON lab_session WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = OLD.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER lab_session_archived_delete BEFORE DELETE ON lab_session WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = OLD.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER camera_archived_insert BEFORE INSERT ON camera WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = NEW.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER camera_archived_update BEFORE UPDATE ON camera WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = OLD.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER camera_archived_delete BEFORE DELETE ON camera WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = OLD.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER exposure_archived_insert BEFORE INSERT ON exposure WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = NEW.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER exposure_archived_update BEFORE UPDATE ON exposure WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = OLD.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER exposure_archived_delete BEFORE DELETE ON exposure WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = OLD.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER camera_student_archived_insert BEFORE INSERT ON camera_student WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id WHERE c.id = NEW.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER camera_student_archived_update BEFORE UPDATE ON camera_student WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id WHERE c.id = OLD.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER camera_student_archived_delete BEFORE DELETE ON camera_student WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id WHERE c.id = OLD.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_archived_insert BEFORE INSERT ON hole WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id WHERE c.id = NEW.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_archived_update BEFORE UPDATE ON hole WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id WHERE c.id = OLD.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_archived_delete BEFORE DELETE ON hole WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id WHERE c.id = OLD.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_reading_archived_insert BEFORE INSERT ON hole_reading WHEN EXISTS (SELECT 1 FROM hole h JOIN camera c ON c.id = h.camera_id JOIN section s ON s.id = c.section_id WHERE h.id = NEW.hole_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_reading_archived_update BEFORE UPDATE ON hole_reading WHEN EXISTS (SELECT 1 FROM hole h JOIN camera c ON c.id = h.camera_id JOIN section s ON s.id = c.section_id WHERE h.id = OLD.hole_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_reading_archived_delete BEFORE DELETE ON hole_reading WHEN EXISTS (SELECT 1 FROM hole h JOIN camera c ON c.id = h.camera_id JOIN section s ON s.id = c.section_id WHERE h.id = OLD.hole_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_check_archived_insert BEFORE INSERT ON hole_check WHEN EXISTS (SELECT 1 FROM hole h JOIN camera c ON c.id = h.camera_id JOIN section s ON s.id = c.section_id WHERE h.id = NEW.hole_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_check_archived_update BEFORE UPDATE ON hole_check WHEN EXISTS (SELECT 1 FROM hole h JOIN camera c ON c.id = h.camera_id JOIN section s ON s.id = c.section_id WHERE h.id = OLD.hole_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_check_archived_delete BEFORE DELETE ON hole_check WHEN EXISTS (SELECT 1 FROM hole h JOIN camera c ON c.id = h.camera_id JOIN section s ON s.id = c.section_id WHERE h.id = OLD.hole_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER print_archived_insert BEFORE INSERT ON print WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER print_archived_update BEFORE UPDATE ON print WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER print_archived_delete BEFORE DELETE ON print WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_archived_insert BEFORE INSERT ON report WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_archived_update BEFORE UPDATE ON report WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_archived_delete BEFORE DELETE ON report WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_archived_insert BEFORE INSERT ON mark WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_archived_update BEFORE UPDATE ON mark WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_archived_delete BEFORE DELETE ON mark WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_sheet_archived_insert BEFORE INSERT ON mark_sheet WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_sheet_archived_update BEFORE UPDATE ON mark_sheet WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_sheet_archived_delete BEFORE DELETE ON mark_sheet WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_change_archived_insert BEFORE INSERT ON mark_change WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_change_archived_update BEFORE UPDATE ON mark_change WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_change_archived_delete BEFORE DELETE ON mark_change WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER clean_up_archived_insert BEFORE INSERT ON clean_up WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER clean_up_archived_update BEFORE UPDATE ON clean_up WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER clean_up_archived_delete BEFORE DELETE ON clean_up WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER own_figure_ask_archived_insert BEFORE INSERT ON own_figure_ask WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER own_figure_ask_archived_update BEFORE UPDATE ON own_figure_ask WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER own_figure_ask_archived_delete BEFORE DELETE ON own_figure_ask WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER own_figure_archived_insert BEFORE INSERT ON own_figure WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER own_figure_archived_update BEFORE UPDATE ON own_figure WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER own_figure_archived_delete BEFORE DELETE ON own_figure WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_question_archived_insert BEFORE INSERT ON report_question WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_question_archived_update BEFORE UPDATE ON report_question WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_question_archived_delete BEFORE DELETE ON report_question WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_answer_archived_insert BEFORE INSERT ON report_answer WHEN EXISTS (SELECT 1 FROM report r JOIN lab_session l ON l.id = r.lab_session_id JOIN section s ON s.id = l.section_id WHERE r.id = NEW.report_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_answer_archived_update BEFORE UPDATE ON report_answer WHEN EXISTS (SELECT 1 FROM report r JOIN lab_session l ON l.id = r.lab_session_id JOIN section s ON s.id = l.section_id WHERE r.id = OLD.report_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_answer_archived_delete BEFORE DELETE ON report_answer WHEN EXISTS (SELECT 1 FROM report r JOIN lab_session l ON l.id = r.lab_session_id JOIN section s ON s.id = l.section_id WHERE r.id = OLD.report_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_picture_archived_insert BEFORE INSERT ON report_picture WHEN EXISTS (SELECT 1 FROM report r JOIN lab_session l ON l.id = r.lab_session_id JOIN section s ON s.id = l.section_id WHERE r.id = NEW.report_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_picture_archived_update BEFORE UPDATE ON report_picture WHEN EXISTS (SELECT 1 FROM report r JOIN lab_session l ON l.id = r.lab_session_id JOIN section s ON s.id = l.section_id WHERE r.id = OLD.report_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_picture_archived_delete BEFORE DELETE ON report_picture WHEN EXISTS (SELECT 1 FROM report r JOIN lab_session l ON l.id = r.lab_session_id JOIN section s ON s.id = l.section_id WHERE r.id = OLD.report_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER section_archived_update BEFORE UPDATE ON section WHEN OLD.archived_at IS NOT NULL AND NEW.archived_at IS NOT NULL
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
