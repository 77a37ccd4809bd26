-- Forgets what tells old batches apart. Nobody asks for them any more: who has seen nothing newer for 30 days starts anew.
-- It runs with the rights of the owner, so that a writer needs none to delete.
create or replace function clampbook.forget_batches() returns bigint
language sql security definer set search_path = pg_catalog, pg_temp as $$
    with gone as (
        delete from clampbook.batch
        where at < now() - interval '30 days' and version in (
            select version from clampbook.batch
            where version < (select version from clampbook.book) - 1000
            order by version limit 10000
        )
        returning 1
    )
    select count(*) from gone
$$;
revoke execute on function clampbook.forget_batches() from public;
