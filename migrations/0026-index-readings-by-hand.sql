-- Agreement of methods and entry habits look through what people measured, by the time of measuring.

create index readings_by_hand on readings (method, effective_at)
  where superseded is null and method in ('auscultation', 'palpation', 'counted');
