using System;
using Microsoft.EntityFrameworkCore.Migrations;
using Npgsql.EntityFrameworkCore.PostgreSQL.Metadata;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class RowChanges : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<DateTimeOffset>(
                name: "discarded_at",
                table: "submission_rows",
                type: "timestamp with time zone",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "bulk_decisions",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    chosen_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    chosen_by = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: true),
                    decided_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    decided_by = table.Column<Guid>(type: "uuid", nullable: true),
                    field = table.Column<string>(type: "text", nullable: true),
                    from_value = table.Column<string>(type: "text", nullable: true),
                    to_value = table.Column<string>(type: "text", nullable: true),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: true),
                    undo_asked_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    undo_asked_by = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_bulk_decisions", x => x.id);
                    table.ForeignKey(
                        name: "fk_bulk_decisions_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "row_changes",
                columns: table => new
                {
                    id = table.Column<long>(type: "bigint", nullable: false)
                        .Annotation("Npgsql:ValueGenerationStrategy", NpgsqlValueGenerationStrategy.IdentityByDefaultColumn),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: false),
                    row_number = table.Column<int>(type: "integer", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    takes_back = table.Column<long>(type: "bigint", nullable: true),
                    bulk_id = table.Column<Guid>(type: "uuid", nullable: true),
                    before = table.Column<string>(type: "jsonb", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_row_changes", x => x.id);
                });

            migrationBuilder.CreateTable(
                name: "bulk_rows",
                columns: table => new
                {
                    bulk_id = table.Column<Guid>(type: "uuid", nullable: false),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: false),
                    row_number = table.Column<int>(type: "integer", nullable: false),
                    ordinal = table.Column<int>(type: "integer", nullable: false),
                    state = table.Column<string>(type: "text", nullable: false),
                    change_id = table.Column<long>(type: "bigint", nullable: true),
                    reason = table.Column<string>(type: "text", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_bulk_rows", x => new { x.bulk_id, x.submission_id, x.row_number });
                    table.ForeignKey(
                        name: "fk_bulk_rows_bulk_decisions_bulk_id",
                        column: x => x.bulk_id,
                        principalTable: "bulk_decisions",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_submission_rows_waiting",
                table: "submission_rows",
                columns: new[] { "submission_id", "row_number" },
                filter: "outcome in ('held','rejected') and discarded_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_bulk_decisions_site_id",
                table: "bulk_decisions",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_bulk_rows_bulk_id_state_ordinal",
                table: "bulk_rows",
                columns: new[] { "bulk_id", "state", "ordinal" });

            migrationBuilder.CreateIndex(
                name: "ix_bulk_rows_change_id",
                table: "bulk_rows",
                column: "change_id");

            migrationBuilder.CreateIndex(
                name: "ix_row_changes_submission_id_row_number",
                table: "row_changes",
                columns: new[] { "submission_id", "row_number" });

            migrationBuilder.CreateIndex(
                name: "ix_row_changes_takes_back",
                table: "row_changes",
                column: "takes_back",
                unique: true);

            migrationBuilder.Sql("""
                create trigger row_changes_append_only before update or delete or truncate on row_changes
                  for each statement execute function refuse_change();
                """);

            // What coordinators decided so far, so that it can still be taken back.
            migrationBuilder.Sql("""
                update submission_rows r set discarded_at = h.resolved_at from held_rows h
                 where h.submission_id = r.submission_id and h.row_number = r.row_number and h.resolution = 'discarded';
                insert into row_changes (submission_id, row_number, kind, at, person_id, before)
                select h.submission_id, h.row_number, h.resolution, h.resolved_at, h.resolved_by, jsonb_build_object(
                    'row', to_jsonb(r) || '{"outcome": "held", "infant_id": null, "problems": null, "discarded_at": null}',
                    'held', to_jsonb(h) || '{"resolution": null, "resolved_at": null, "resolved_by": null}')
                  from held_rows h join submission_rows r on r.submission_id = h.submission_id and r.row_number = h.row_number
                 where h.resolution in ('matched', 'discarded') and h.resolved_by is not null;
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "bulk_rows");

            migrationBuilder.DropTable(
                name: "row_changes");

            migrationBuilder.DropTable(
                name: "bulk_decisions");

            migrationBuilder.DropIndex(
                name: "ix_submission_rows_waiting",
                table: "submission_rows");

            migrationBuilder.DropColumn(
                name: "discarded_at",
                table: "submission_rows");
        }
    }
}
