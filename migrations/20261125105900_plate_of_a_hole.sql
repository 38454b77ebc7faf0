-- How thick the plate is that a hole is in. Holes measured before this was asked keep nothing: it was
-- not said, which is not the same as thin.
ALTER TABLE hole ADD COLUMN plate_nm INTEGER
    CONSTRAINT hole_plate_range CHECK (plate_nm IS NULL OR plate_nm BETWEEN 1000 AND 10000000);
ALTER TABLE hole ADD COLUMN plate_typed TEXT
    CONSTRAINT hole_plate_with_what_was_typed CHECK ((plate_typed IS NULL) = (plate_nm IS NULL));
