-- Which colours a paper or film sees: it decides the light in which a camera's picture is drawn. The cards that every
-- stockroom began with are taken as the usual kinds of today; of others it was not said.
ALTER TABLE paper ADD COLUMN sees TEXT NOT NULL DEFAULT ''
    CONSTRAINT paper_sees_known CHECK (sees IN ('', 'blue', 'blue and green', 'all colours'));
UPDATE paper SET sees = CASE
    WHEN kind = 'film' AND name = 'Film, ISO 100' THEN 'all colours'
    WHEN kind = 'paper' AND name IN ('Resin-coated paper', 'Fibre-based paper') THEN 'blue and green'
    ELSE '' END;
