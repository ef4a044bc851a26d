-- Layout 2: setups that came from another logbook.
--
-- When it was imported; none where it was begun here. What was imported is not what this bench measures: commands work
-- on it only when it is named, or taken up again.
ALTER TABLE setups ADD COLUMN imported_at INTEGER;
