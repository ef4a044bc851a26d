-- Layout 4: a checksum beside the columns that a list of setups reads.
--
-- CRC-64/XZ of them as a JSON array, in the order of the list; none beside what an earlier layout wrote last.
ALTER TABLE setups ADD COLUMN columns_checksum INTEGER;
