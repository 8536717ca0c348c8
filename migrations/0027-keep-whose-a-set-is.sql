-- Sets taken at the bedside without a network may be handed in by the next person: whose they are, and who sent them.

alter table submissions
  add column person_key integer references people,
  add column sent_by_key integer references people;
comment on column submissions.person_key is 'The person whose submission it is: who was signed in and sent it, or who took the set that another person handed in. Null: a program''s.';
comment on column submissions.sent_by_key is 'Another person, who handed it in for the one whose it is. Null: nobody else did.';
