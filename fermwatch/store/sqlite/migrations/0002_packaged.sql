-- A packaged batch has left its fermenter: the next beer may go in while it conditions.

ALTER TABLE batch ADD COLUMN packaged_at_ms INTEGER;

UPDATE batch SET packaged_at_ms = (
    SELECT max(e.at_ms) FROM event AS e
    WHERE e.site = batch.site AND e.batch = batch.id AND NOT e.voided AND json_extract(e.event, '$.kind') = 'packaged'
);

UPDATE batch SET batch = json_set(batch, '$.packaged_at', (
    SELECT json_extract(e.event, '$.at') FROM event AS e
    WHERE e.site = batch.site AND e.batch = batch.id AND e.at_ms = batch.packaged_at_ms AND NOT e.voided
    AND json_extract(e.event, '$.kind') = 'packaged'
)) WHERE packaged_at_ms IS NOT NULL;

DROP INDEX one_open_batch_per_vessel;
CREATE UNIQUE INDEX one_batch_per_fermenter ON batch (site, vessel) WHERE NOT ended AND packaged_at_ms IS NULL;
