using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class StorageAndBackups : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "alarms",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    problem = table.Column<string>(type: "text", nullable: false),
                    since = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    mailed_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    ended_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_alarms", x => x.id);
                });

            migrationBuilder.CreateTable(
                name: "backups",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    taken_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    finished_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    tables = table.Column<int>(type: "integer", nullable: false),
                    rows = table.Column<long>(type: "bigint", nullable: false),
                    bytes = table.Column<long>(type: "bigint", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_backups", x => x.id);
                });

            migrationBuilder.CreateIndex(
                name: "ix_submissions_stored",
                table: "submissions",
                column: "site_id")
                .Annotation("Npgsql:IndexInclude", new[] { "byte_count", "state", "finished_at" });

            migrationBuilder.CreateIndex(
                name: "ix_alarms_problem",
                table: "alarms",
                column: "problem",
                unique: true,
                filter: "ended_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_backups_taken_at",
                table: "backups",
                column: "taken_at");

            // What is kept of past days is bounded by its rows.
            migrationBuilder.Sql("alter table status_snapshots add column rows bigint not null default 0");

            // Raw bytes stay, but for those of a file that was refused as a whole at least seven days ago.
            migrationBuilder.Sql(
                """
                drop trigger submission_chunks_append_only on submission_chunks;
                create trigger submission_chunks_append_only before update or truncate on submission_chunks
                  for each statement execute function refuse_change();

                -- By no statement but that of the function below; the rows it may take are checked one by one all the same.
                create trigger submission_chunks_no_delete before delete on submission_chunks for each statement
                  when (current_setting('registry.purging', true) is distinct from 'on') execute function refuse_change();

                create function refuse_kept_bytes() returns trigger language plpgsql as $$
                begin
                  if not exists (select from submissions
                      where id = old.submission_id and state = 'refused' and finished_at < now() - interval '7 days') then
                    raise exception 'submission_chunks is append-only: DELETE refused' using errcode = 'integrity_constraint_violation';
                  end if;
                  return old;
                end $$;
                create trigger submission_chunks_kept before delete on submission_chunks for each row execute function refuse_kept_bytes();

                -- The one way they are deleted, with the rights of whoever made it: nobody needs the right to delete.
                create function purge_refused_bytes(before timestamptz, most integer) returns integer
                  language plpgsql security definer set search_path = public, pg_temp as $$
                declare purged integer;
                begin
                  perform set_config('registry.purging', 'on', true);
                  with old as (
                    select id from submissions s
                    where state = 'refused' and finished_at < least(before, now() - interval '7 days')
                      and exists (select from submission_chunks c where c.submission_id = s.id)
                    limit most
                  ), gone as (
                    delete from submission_chunks c using old where c.submission_id = old.id returning c.submission_id
                  )
                  select count(distinct submission_id)::integer into purged from gone;
                  perform set_config('registry.purging', '', true);
                  return purged;
                end
                $$;
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql(
                """
                drop function purge_refused_bytes;
                drop trigger submission_chunks_kept on submission_chunks;
                drop trigger submission_chunks_no_delete on submission_chunks;
                drop function refuse_kept_bytes;
                drop trigger submission_chunks_append_only on submission_chunks;
                create trigger submission_chunks_append_only before update or delete or truncate on submission_chunks
                  for each statement execute function refuse_change();
                alter table status_snapshots drop column rows;
                """);

            migrationBuilder.DropTable(
                name: "alarms");

            migrationBuilder.DropTable(
                name: "backups");

            migrationBuilder.DropIndex(
                name: "ix_submissions_stored",
                table: "submissions");
        }
    }
}
