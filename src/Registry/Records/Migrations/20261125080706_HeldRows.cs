using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class HeldRows : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_infant_identifiers_kind_value_site_id",
                table: "infant_identifiers");

            migrationBuilder.DropIndex(
                name: "ix_births_born_on",
                table: "births");

            migrationBuilder.DropIndex(
                name: "ix_births_mother_key",
                table: "births");

            migrationBuilder.RenameColumn(
                name: "mother_key",
                table: "births",
                newName: "mother_given_key");

            migrationBuilder.AddColumn<string>(
                name: "default_kind",
                table: "submissions",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "mother_family_key",
                table: "births",
                type: "text",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "held_rows",
                columns: table => new
                {
                    submission_id = table.Column<Guid>(type: "uuid", nullable: false),
                    row_number = table.Column<int>(type: "integer", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    reason = table.Column<string>(type: "text", nullable: false),
                    held_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    record_number = table.Column<string>(type: "text", nullable: true),
                    card_id = table.Column<string>(type: "text", nullable: true),
                    birth_date = table.Column<DateOnly>(type: "date", nullable: true),
                    mother_family_key = table.Column<string>(type: "text", nullable: true),
                    mother_born_on = table.Column<DateOnly>(type: "date", nullable: true),
                    resolution = table.Column<string>(type: "text", nullable: true),
                    resolved_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    resolved_by = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_held_rows", x => new { x.submission_id, x.row_number });
                    table.ForeignKey(
                        name: "fk_held_rows_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_births_born_on_mother_born_on",
                table: "births",
                columns: new[] { "born_on", "mother_born_on" },
                filter: "superseded_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_births_born_on_mother_family_key",
                table: "births",
                columns: new[] { "born_on", "mother_family_key" },
                filter: "superseded_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_birth_date",
                table: "held_rows",
                column: "birth_date",
                filter: "resolution is null and reason = 'no_such_infant'");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_card_id",
                table: "held_rows",
                column: "card_id",
                filter: "resolution is null and reason = 'no_such_infant'");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_site_id_reason",
                table: "held_rows",
                columns: new[] { "site_id", "reason" },
                filter: "resolution is null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_site_id_record_number",
                table: "held_rows",
                columns: new[] { "site_id", "record_number" },
                filter: "resolution is null and reason = 'no_such_infant'");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_births_born_on_mother_born_on",
                table: "births");

            migrationBuilder.DropIndex(
                name: "ix_births_born_on_mother_family_key",
                table: "births");

            migrationBuilder.DropColumn(
                name: "default_kind",
                table: "submissions");

            migrationBuilder.DropColumn(
                name: "mother_family_key",
                table: "births");

            migrationBuilder.RenameColumn(
                name: "mother_given_key",
                table: "births",
                newName: "mother_key");

            migrationBuilder.CreateIndex(
                name: "ix_infant_identifiers_kind_value_site_id",
                table: "infant_identifiers",
                columns: new[] { "kind", "value", "site_id" },
                filter: "superseded_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_births_born_on",
                table: "births",
                column: "born_on");

            migrationBuilder.CreateIndex(
                name: "ix_births_mother_key",
                table: "births",
                column: "mother_key",
                filter: "superseded_at is null");
        }
    }
}
