-- What the analyst's lists are read by: the held by urgency, the decided by time, the refused.

alter table readings add column critical boolean;
comment on column readings.critical is 'True: critically low or high for the patient''s age (for any age where it is not known), or a consciousness other than alert. Null: not.';

-- The expressions are those of the list by urgency, word for word.
create index readings_by_urgency on readings (
  (case when critical then 0 else 2 end + case when status is null then 0 else 1 end),
  (coalesce(hold_until, stamp)),
  reading_id
) where verdict = 'held' and superseded is null;

create index decisions_by_time on decisions (decided_at);
create index submissions_refused on submissions (submission_id) where status >= 400;
