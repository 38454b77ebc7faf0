-- An archived section is read, not changed: also what stands at the trays, in the box counts, on the
-- floor and in experience; and nothing is moved into it from a section that is not archived.
-- A criterion judged by the hole says how far the hole may lie from its target.

CREATE TRIGGER sheet_run_archived_insert BEFORE INSERT ON sheet_run
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_run_archived_update BEFORE UPDATE ON sheet_run
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL) OR EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_run_archived_delete BEFORE DELETE ON sheet_run
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_run_batch_archived_insert BEFORE INSERT ON sheet_run_batch
WHEN EXISTS (SELECT 1 FROM sheet_run r JOIN lab_session l ON l.id = r.lab_session_id
    JOIN section s ON s.id = l.section_id WHERE r.id = NEW.sheet_run_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_run_batch_archived_update BEFORE UPDATE ON sheet_run_batch
WHEN EXISTS (SELECT 1 FROM sheet_run r JOIN lab_session l ON l.id = r.lab_session_id
    JOIN section s ON s.id = l.section_id WHERE r.id = OLD.sheet_run_id AND s.archived_at IS NOT NULL) OR EXISTS (SELECT 1 FROM sheet_run r JOIN lab_session l ON l.id = r.lab_session_id
    JOIN section s ON s.id = l.section_id WHERE r.id = NEW.sheet_run_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_run_batch_archived_delete BEFORE DELETE ON sheet_run_batch
WHEN EXISTS (SELECT 1 FROM sheet_run r JOIN lab_session l ON l.id = r.lab_session_id
    JOIN section s ON s.id = l.section_id WHERE r.id = OLD.sheet_run_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_count_archived_insert BEFORE INSERT ON sheet_count
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_count_archived_update BEFORE UPDATE ON sheet_count
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL) OR EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_count_archived_delete BEFORE DELETE ON sheet_count
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER left_out_archived_insert BEFORE INSERT ON left_out
WHEN EXISTS (SELECT 1 FROM exposure e JOIN section s ON s.id = e.section_id
    WHERE e.id = NEW.exposure_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER left_out_archived_update BEFORE UPDATE ON left_out
WHEN EXISTS (SELECT 1 FROM exposure e JOIN section s ON s.id = e.section_id
    WHERE e.id = OLD.exposure_id AND s.archived_at IS NOT NULL) OR EXISTS (SELECT 1 FROM exposure e JOIN section s ON s.id = e.section_id
    WHERE e.id = NEW.exposure_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER left_out_archived_delete BEFORE DELETE ON left_out
WHEN EXISTS (SELECT 1 FROM exposure e JOIN section s ON s.id = e.section_id
    WHERE e.id = OLD.exposure_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER announcement_archived_insert BEFORE INSERT ON announcement
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER announcement_archived_update BEFORE UPDATE ON announcement
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL) OR EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER announcement_archived_delete BEFORE DELETE ON announcement
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER help_call_archived_insert BEFORE INSERT ON help_call
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER help_call_archived_update BEFORE UPDATE ON help_call
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL) OR EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER help_call_archived_delete BEFORE DELETE ON help_call
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_way_archived_insert BEFORE INSERT ON sheet_way
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_way_archived_update BEFORE UPDATE ON sheet_way
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL) OR EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER sheet_way_archived_delete BEFORE DELETE ON sheet_way
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = OLD.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;

-- ---------------------------------------------------------------- moved into an archived section

CREATE TRIGGER student_archived_moved_in BEFORE UPDATE OF section_id ON student
WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = NEW.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER lab_session_archived_moved_in BEFORE UPDATE OF section_id ON lab_session
WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = NEW.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER camera_archived_moved_in BEFORE UPDATE OF section_id ON camera
WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = NEW.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER exposure_archived_moved_in BEFORE UPDATE OF section_id ON exposure
WHEN EXISTS (SELECT 1 FROM section s WHERE s.id = NEW.section_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER camera_student_archived_moved_in BEFORE UPDATE OF camera_id ON camera_student
WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id
    WHERE c.id = NEW.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_archived_moved_in BEFORE UPDATE OF camera_id ON hole
WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id
    WHERE c.id = NEW.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_reading_archived_moved_in BEFORE UPDATE OF hole_id ON hole_reading
WHEN EXISTS (SELECT 1 FROM hole h JOIN camera c ON c.id = h.camera_id JOIN section s ON s.id = c.section_id
    WHERE h.id = NEW.hole_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER hole_check_archived_moved_in BEFORE UPDATE OF hole_id ON hole_check
WHEN EXISTS (SELECT 1 FROM hole h JOIN camera c ON c.id = h.camera_id JOIN section s ON s.id = c.section_id
    WHERE h.id = NEW.hole_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER print_archived_moved_in BEFORE UPDATE OF lab_session_id ON print
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_archived_moved_in BEFORE UPDATE OF lab_session_id ON report
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_question_archived_moved_in BEFORE UPDATE OF lab_session_id ON report_question
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_archived_moved_in BEFORE UPDATE OF lab_session_id ON mark
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_sheet_archived_moved_in BEFORE UPDATE OF lab_session_id ON mark_sheet
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER mark_change_archived_moved_in BEFORE UPDATE OF lab_session_id ON mark_change
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER clean_up_archived_moved_in BEFORE UPDATE OF lab_session_id ON clean_up
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER own_figure_archived_moved_in BEFORE UPDATE OF lab_session_id ON own_figure
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER own_figure_ask_archived_moved_in BEFORE UPDATE OF lab_session_id ON own_figure_ask
WHEN EXISTS (SELECT 1 FROM lab_session l JOIN section s ON s.id = l.section_id
    WHERE l.id = NEW.lab_session_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_answer_archived_moved_in BEFORE UPDATE OF report_id ON report_answer
WHEN EXISTS (SELECT 1 FROM report r JOIN lab_session l ON l.id = r.lab_session_id JOIN section s ON s.id = l.section_id
    WHERE r.id = NEW.report_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER report_picture_archived_moved_in BEFORE UPDATE OF report_id ON report_picture
WHEN EXISTS (SELECT 1 FROM report r JOIN lab_session l ON l.id = r.lab_session_id JOIN section s ON s.id = l.section_id
    WHERE r.id = NEW.report_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;

-- ---------------------------------------------------------------- how far a hole may lie from its target

-- thousandths of the target; only a criterion judged by the hole uses it. A tenth: common practice, no source
ALTER TABLE criterion ADD COLUMN hole_within_milli INTEGER NOT NULL DEFAULT 100
    CONSTRAINT criterion_hole_within_range CHECK (hole_within_milli BETWEEN 10 AND 500);
