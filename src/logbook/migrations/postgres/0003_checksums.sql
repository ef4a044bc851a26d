-- Layout 3: checksums, so that bytes which a disk has changed are not taken for what was recorded.
--
-- CRC-64/XZ of the document's or the samples' bytes; none beside what an earlier layout wrote.
ALTER TABLE setups ADD COLUMN checksum BIGINT;
ALTER TABLE entries ADD COLUMN checksum BIGINT;
ALTER TABLE raw_samples ADD COLUMN checksum BIGINT;
