-- Several machines, one PostgreSQL, two users: the machines serve as one that cannot alter a table, and `manage.py
-- migrate` runs as the owner of the tables, once for all of them. Once, as the superuser, in the shop's database:
--   psql -d workshop -f two-roles.sql
-- then in the owner's environment DATABASE_URL=postgres://workshop_owner@…/workshop, on the machines
-- DATABASE_URL=postgres://workshop@…/workshop. With every newer version: `manage.py migrate` as the owner first, then
-- one machine after the other is put on it. `manage.py serve` says so where it is behind, and serves nothing.
CREATE ROLE workshop_owner LOGIN;
CREATE ROLE workshop LOGIN;
CREATE EXTENSION IF NOT EXISTS pg_trgm;
GRANT CREATE, USAGE ON SCHEMA public TO workshop_owner;
GRANT USAGE ON SCHEMA public TO workshop;
-- Of whatever the owner makes from now on.
ALTER DEFAULT PRIVILEGES FOR ROLE workshop_owner IN SCHEMA public
    GRANT SELECT, INSERT, UPDATE, DELETE ON TABLES TO workshop;
ALTER DEFAULT PRIVILEGES FOR ROLE workshop_owner IN SCHEMA public GRANT USAGE, SELECT ON SEQUENCES TO workshop;
-- Tables that are there already: REASSIGN OWNED BY whoever_made_them TO workshop_owner, then the same two lines again
-- with GRANT … ON ALL TABLES IN SCHEMA public and ON ALL SEQUENCES IN SCHEMA public.
