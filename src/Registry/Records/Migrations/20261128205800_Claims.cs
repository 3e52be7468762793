using System;
using Microsoft.EntityFrameworkCore.Migrations;
using Npgsql.EntityFrameworkCore.PostgreSQL.Metadata;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class Claims : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_infant_identifiers_value",
                table: "infant_identifiers");

            migrationBuilder.CreateTable(
                name: "care_agreements",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    from_site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    to_site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    covers = table.Column<string>(type: "text", nullable: false),
                    from_on = table.Column<DateOnly>(type: "date", nullable: false),
                    until_on = table.Column<DateOnly>(type: "date", nullable: true),
                    stated_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    stated_by = table.Column<Guid>(type: "uuid", nullable: true),
                    ended_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    ended_by = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_care_agreements", x => x.id);
                    table.ForeignKey(
                        name: "fk_care_agreements_sites_from_site_id",
                        column: x => x.from_site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_care_agreements_sites_to_site_id",
                        column: x => x.to_site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "claim_decisions",
                columns: table => new
                {
                    id = table.Column<long>(type: "bigint", nullable: false)
                        .Annotation("Npgsql:ValueGenerationStrategy", NpgsqlValueGenerationStrategy.IdentityByDefaultColumn),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    decision = table.Column<string>(type: "text", nullable: false),
                    at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    reason = table.Column<string>(type: "text", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_claim_decisions", x => x.id);
                    table.ForeignKey(
                        name: "fk_claim_decisions_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_claim_decisions_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "unmatched_counts",
                columns: table => new
                {
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    day = table.Column<DateOnly>(type: "date", nullable: false),
                    rows = table.Column<int>(type: "integer", nullable: false),
                    last_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_unmatched_counts", x => new { x.site_id, x.day });
                    table.ForeignKey(
                        name: "fk_unmatched_counts_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_submission_rows_held_of_infant",
                table: "submission_rows",
                column: "infant_id",
                filter: "outcome = 'held' and infant_id is not null");

            migrationBuilder.CreateIndex(
                name: "ix_infant_identifiers_value",
                table: "infant_identifiers",
                column: "value",
                filter: "superseded_at is null and kind = 'card_id'");

            migrationBuilder.CreateIndex(
                name: "ux_infant_identifiers_card_of_site",
                table: "infant_identifiers",
                columns: new[] { "site_id", "value" },
                unique: true,
                filter: "superseded_at is null and kind = 'card_id'");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_claims",
                table: "held_rows",
                columns: new[] { "submission_id", "row_number" },
                filter: "resolution is null and reason in ('awaits_confirmation', 'not_confirmed')");

            migrationBuilder.CreateIndex(
                name: "ix_care_agreements_from_site_id_to_site_id",
                table: "care_agreements",
                columns: new[] { "from_site_id", "to_site_id" });

            migrationBuilder.CreateIndex(
                name: "ix_care_agreements_to_site_id",
                table: "care_agreements",
                column: "to_site_id");

            migrationBuilder.CreateIndex(
                name: "ix_claim_decisions_infant_id_site_id_id",
                table: "claim_decisions",
                columns: new[] { "infant_id", "site_id", "id" });

            migrationBuilder.CreateIndex(
                name: "ix_claim_decisions_site_id",
                table: "claim_decisions",
                column: "site_id");

            migrationBuilder.Sql("""
                create trigger claim_decisions_append_only before update or delete or truncate on claim_decisions
                  for each statement execute function refuse_change();
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "care_agreements");

            migrationBuilder.DropTable(
                name: "claim_decisions");

            migrationBuilder.DropTable(
                name: "unmatched_counts");

            migrationBuilder.DropIndex(
                name: "ix_submission_rows_held_of_infant",
                table: "submission_rows");

            migrationBuilder.DropIndex(
                name: "ix_infant_identifiers_value",
                table: "infant_identifiers");

            migrationBuilder.DropIndex(
                name: "ux_infant_identifiers_card_of_site",
                table: "infant_identifiers");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_claims",
                table: "held_rows");

            migrationBuilder.CreateIndex(
                name: "ix_infant_identifiers_value",
                table: "infant_identifiers",
                column: "value",
                unique: true,
                filter: "superseded_at is null and kind = 'card_id'");
        }
    }
}
