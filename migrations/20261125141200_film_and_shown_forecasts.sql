-- Film in a body cap has a speed of its own, a sheet keeps the forecast that was shown, and what a
-- negative looks like besides too light or too dark is kept with it.

-- Which film was put into a camera, and when: the newest counts. Paper comes from the session instead.
CREATE TABLE film_in_camera (
    camera_id   BLOB    NOT NULL REFERENCES camera (id),
    from_at     INTEGER NOT NULL,
    film_id     BLOB    NOT NULL REFERENCES paper (id),
    recorded_by BLOB    NOT NULL,
    PRIMARY KEY (camera_id, from_at)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER film_in_camera_archived_insert BEFORE INSERT ON film_in_camera WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id WHERE c.id = NEW.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER film_in_camera_archived_update BEFORE UPDATE ON film_in_camera WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id WHERE c.id = OLD.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;
CREATE TRIGGER film_in_camera_archived_delete BEFORE DELETE ON film_in_camera WHEN EXISTS (SELECT 1 FROM camera c JOIN section s ON s.id = c.section_id WHERE c.id = OLD.camera_id AND s.archived_at IS NOT NULL)
BEGIN SELECT RAISE(ABORT, 'this section is archived'); END;

-- 1: the forecast is the one that stood on the page before the sheet was recorded, and stays; 0: none was
-- shown, it was worked out when the sheet was recorded (all sheets from before this column).
ALTER TABLE exposure ADD COLUMN forecast_shown INTEGER NOT NULL DEFAULT 0
    CONSTRAINT exposure_forecast_shown_is_flag CHECK (forecast_shown IN (0, 1));
-- the light that it was shown for, in words; empty: the light as found
ALTER TABLE exposure ADD COLUMN shown_for TEXT NOT NULL DEFAULT ''
    CONSTRAINT exposure_shown_for_length CHECK (length(shown_for) <= 200);
-- the sign somebody picked, by its address (domain/diagnosis.rs); empty: none
ALTER TABLE exposure ADD COLUMN sign TEXT NOT NULL DEFAULT ''
    CONSTRAINT exposure_sign_length CHECK (length(sign) <= 100);
