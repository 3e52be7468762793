#!/bin/sh
# Run once by the database image when its volume is new, as the superuser: makes the owner of the registry's tables. The owner is no
# superuser; it makes the logins of web and worker (the migrate verb), and one of them passes row security, which takes bypassrls here.
set -eu
psql --set=ON_ERROR_STOP=1 --set=password="$(cat /run/secrets/postgres_owner)" --username "$POSTGRES_USER" --dbname postgres <<'SQL'
create role registry login createrole bypassrls password :'password';
create database registry owner registry;
SQL
