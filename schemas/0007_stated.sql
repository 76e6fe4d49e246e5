-- What can be stated to clear a doubt, so that no rule has to assume it. NULL stays "unknown".
ALTER TABLE site ADD COLUMN time_zone TEXT CHECK (length(time_zone) BETWEEN 1 AND 64);
-- How the supply is earthed, IEC 60364-1, 312.2; a circuit's own word goes before the site's.
ALTER TABLE site ADD COLUMN earthing TEXT CHECK (earthing IN ('TN', 'TT', 'IT'));
ALTER TABLE circuits ADD COLUMN earthing TEXT CHECK (earthing IN ('TN', 'TT', 'IT'));
ALTER TABLE circuits ADD COLUMN supply TEXT CHECK (supply IN ('120', '120/240', '208Y/120',
    '480Y/277', '240/120 high leg', '230', '400Y/230'));
ALTER TABLE circuits ADD COLUMN continuous INTEGER CHECK (continuous IN (0, 1));
ALTER TABLE circuits ADD COLUMN motor INTEGER CHECK (motor IN (0, 1));
ALTER TABLE circuits ADD COLUMN module_vmp_v REAL CHECK (module_vmp_v > 0);
ALTER TABLE circuits ADD COLUMN module_imp_a REAL CHECK (module_imp_a > 0);
ALTER TABLE devices ADD COLUMN termination_rating_c REAL;
ALTER TABLE raceways ADD COLUMN width_mm REAL CHECK (width_mm > 0);     -- inside, of a wireway
ALTER TABLE raceways ADD COLUMN height_mm REAL CHECK (height_mm > 0);
ALTER TABLE raceways ADD COLUMN above_roof_m REAL CHECK (above_roof_m >= 0);
-- Whether the markings that the code demands are on it.
ALTER TABLE raceways ADD COLUMN marked INTEGER CHECK (marked IN (0, 1));
ALTER TABLE enclosures ADD COLUMN marked INTEGER CHECK (marked IN (0, 1));
ALTER TABLE conductors ADD COLUMN parallel_set INTEGER CHECK (parallel_set > 0);
-- The colour that an end is marked with (tape, paint) because the insulation has another.
ALTER TABLE ends ADD COLUMN reidentified TEXT;
ALTER TABLE instruments ADD COLUMN range TEXT;                          -- its top, as typed
ALTER TABLE readings ADD COLUMN cell_temp_c REAL;                       -- of PV cells, then
