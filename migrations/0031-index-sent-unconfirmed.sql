-- What went out unconfirmed is reported by the time at which it did.

create index readings_sent_unconfirmed on readings (stamp) where verdict = 'held' and status = 'preliminary';
