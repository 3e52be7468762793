using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class Erasure : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "erasure_requests",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    reason = table.Column<string>(type: "text", nullable: false),
                    asked_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    asked_by = table.Column<Guid>(type: "uuid", nullable: false),
                    decision = table.Column<string>(type: "text", nullable: true),
                    decided_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    decided_by = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_erasure_requests", x => x.id);
                    table.ForeignKey(
                        name: "fk_erasure_requests_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_erasure_requests_infant_id",
                table: "erasure_requests",
                column: "infant_id",
                unique: true,
                filter: "decision is null");

            migrationBuilder.Sql(Registry.Platform.EmbeddedSql.Of<RegistryDb>("Guards.Erasure"));
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            // The guards as they were.
            migrationBuilder.Sql("""
                drop function erase_infant;
                create or replace function refuse_change() returns trigger language plpgsql as $$
                begin
                  raise exception '% is append-only: % refused', tg_table_name, tg_op using errcode = 'integrity_constraint_violation';
                end $$;
                create or replace function refuse_fact_edit() returns trigger language plpgsql as $$
                begin
                  if to_jsonb(new) - 'superseded_at' is distinct from to_jsonb(old) - 'superseded_at' then
                    raise exception 'facts in % are never edited: add a new one and supersede the old', tg_table_name
                      using errcode = 'integrity_constraint_violation';
                  end if;
                  return new;
                end $$;
                drop function is_erasing(oid);
                """);

            migrationBuilder.DropTable(
                name: "erasure_requests");
        }
    }
}
