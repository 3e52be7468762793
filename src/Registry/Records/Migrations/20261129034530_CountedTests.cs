using System;
using Microsoft.EntityFrameworkCore.Migrations;
using Npgsql.EntityFrameworkCore.PostgreSQL.Metadata;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class CountedTests : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "counted_tests",
                columns: table => new
                {
                    screening_id = table.Column<Guid>(type: "uuid", nullable: false),
                    known_from = table.Column<DateOnly>(type: "date", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    known_until = table.Column<DateOnly>(type: "date", nullable: true),
                    born_on = table.Column<DateOnly>(type: "date", nullable: false),
                    first_on = table.Column<DateOnly>(type: "date", nullable: false),
                    ear = table.Column<string>(type: "text", nullable: false),
                    method = table.Column<string>(type: "text", nullable: false),
                    outcome = table.Column<string>(type: "text", nullable: false),
                    reason = table.Column<string>(type: "text", nullable: false),
                    performed_at = table.Column<DateTime>(type: "timestamp without time zone", nullable: false),
                    instrument = table.Column<string>(type: "text", nullable: true),
                    probe = table.Column<string>(type: "text", nullable: true),
                    screener = table.Column<string>(type: "text", nullable: true),
                    age_hours = table.Column<double>(type: "double precision", nullable: true),
                    early = table.Column<bool>(type: "boolean", nullable: true),
                    in_nicu = table.Column<bool>(type: "boolean", nullable: false),
                    gestation_weeks = table.Column<int>(type: "integer", nullable: true),
                    received_at = table.Column<DateTime>(type: "timestamp without time zone", nullable: false),
                    is_first = table.Column<bool>(type: "boolean", nullable: false),
                    decides = table.Column<bool>(type: "boolean", nullable: false),
                    in_first_session = table.Column<bool>(type: "boolean", nullable: false),
                    is_first_valid = table.Column<bool>(type: "boolean", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_counted_tests", x => new { x.screening_id, x.known_from });
                    table.ForeignKey(
                        name: "fk_counted_tests_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_counted_tests_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "screen_counts",
                columns: table => new
                {
                    id = table.Column<long>(type: "bigint", nullable: false)
                        .Annotation("Npgsql:ValueGenerationStrategy", NpgsqlValueGenerationStrategy.IdentityByDefaultColumn),
                    counted_by = table.Column<string>(type: "text", nullable: false),
                    grouping = table.Column<string>(type: "text", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    unit = table.Column<string>(type: "text", nullable: false),
                    day = table.Column<DateOnly>(type: "date", nullable: false),
                    changed_on = table.Column<DateOnly>(type: "date", nullable: true),
                    tests = table.Column<int>(type: "integer", nullable: false),
                    no_seal = table.Column<int>(type: "integer", nullable: false),
                    noise = table.Column<int>(type: "integer", nullable: false),
                    other_reason = table.Column<int>(type: "integer", nullable: false),
                    refers = table.Column<int>(type: "integer", nullable: false),
                    late = table.Column<int>(type: "integer", nullable: false),
                    infants = table.Column<int>(type: "integer", nullable: false),
                    ears = table.Column<int>(type: "integer", nullable: false),
                    concluded = table.Column<int>(type: "integer", nullable: false),
                    both_ears = table.Column<int>(type: "integer", nullable: false),
                    referred = table.Column<int>(type: "integer", nullable: false),
                    referred_both = table.Column<int>(type: "integer", nullable: false),
                    with_age = table.Column<int>(type: "integer", nullable: false),
                    early = table.Column<int>(type: "integer", nullable: false),
                    first_day = table.Column<int>(type: "integer", nullable: false),
                    sessions = table.Column<int>(type: "integer", nullable: false),
                    session_both_ears = table.Column<int>(type: "integer", nullable: false),
                    session_referred = table.Column<int>(type: "integer", nullable: false),
                    session_referred_both = table.Column<int>(type: "integer", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_screen_counts", x => x.id);
                    table.ForeignKey(
                        name: "fk_screen_counts_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_counted_tests_infant_id",
                table: "counted_tests",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_counted_tests_site_id_born_on",
                table: "counted_tests",
                columns: new[] { "site_id", "born_on" });

            migrationBuilder.CreateIndex(
                name: "ix_counted_tests_site_id_performed_at",
                table: "counted_tests",
                columns: new[] { "site_id", "performed_at" });

            migrationBuilder.CreateIndex(
                name: "ix_screen_counts_counted_by_grouping_changed_on",
                table: "screen_counts",
                columns: new[] { "counted_by", "grouping", "changed_on" },
                filter: "changed_on is not null");

            migrationBuilder.CreateIndex(
                name: "ix_screen_counts_counted_by_grouping_site_id_day",
                table: "screen_counts",
                columns: new[] { "counted_by", "grouping", "site_id", "day" },
                filter: "changed_on is null");

            migrationBuilder.CreateIndex(
                name: "ix_screen_counts_site_id",
                table: "screen_counts",
                column: "site_id");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "counted_tests");

            migrationBuilder.DropTable(
                name: "screen_counts");
        }
    }
}
