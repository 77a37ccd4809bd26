-- What the engine needs: entries, the batches that wrote them, and one row that every writer locks.
create schema clampbook;

create table clampbook.book (
    one boolean primary key default true check (one),
    format integer not null,
    version bigint not null
);
insert into clampbook.book (format, version) values (1, 0);

create table clampbook.entry (
    key bytea primary key,
    value bytea,
    version bigint not null
);
comment on column clampbook.entry.value is 'absent: the key was removed by that batch';
create index entry_version on clampbook.entry (version);

create table clampbook.batch (
    version bigint primary key,
    token bytea not null check (length(token) = 16),
    at timestamptz not null default clock_timestamp()
);

create table clampbook.pulse (
    one boolean primary key default true check (one),
    at timestamptz not null default clock_timestamp()
);
insert into clampbook.pulse default values;
