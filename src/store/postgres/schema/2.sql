-- Every revision as JSON for those who report on the book. Written in the same transaction as the entries.
create table clampbook.record (
    id text not null,
    revision bigint not null check (revision > 0),
    kind text not null check (kind in ('joint', 'fastener')),
    state text not null check (state in ('current', 'withdrawn')),
    sequence bigint not null unique,
    changed_at timestamptz not null,
    changed_by text,
    why text,
    body jsonb not null,
    joint text generated always as (body ->> 'joint') stored,
    name text generated always as (coalesce(body ->> 'name', body ->> 'title')) stored,
    head text generated always as (body ->> 'head') stored,
    thread text generated always as (body ->> 'thread') stored,
    property_class text generated always as (body ->> 'property_class') stored,
    positions text generated always as (body ->> 'positions') stored,
    part_no text generated always as (body ->> 'part_no') stored,
    primary key (id, revision),
    constraint body_is_the_record check ((
        jsonb_typeof(body) = 'object'
        and body ->> 'id' = id
        and body ->> 'kind' = kind
        and (kind = 'joint' or (body ? 'joint' and body ? 'thread' and jsonb_typeof(body -> 'stages') = 'array'))
    ) is true)
);
create index record_joint on clampbook.record (joint);
create index record_thread on clampbook.record (thread, property_class);
create index record_part_no on clampbook.record (part_no);
create index record_changed_at on clampbook.record (changed_at);

create view clampbook.current_record as
    select * from (
        select distinct on (id) * from clampbook.record order by id, revision desc
    ) as latest
    where state = 'current';
