using System;
using Microsoft.EntityFrameworkCore.Migrations;
using Npgsql.EntityFrameworkCore.PostgreSQL.Metadata;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class CountChanges : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            // Sums have one row a place from here on; the first fold counts everything anew (KeepCountsCurrent).
            migrationBuilder.Sql("delete from screen_counts");

            migrationBuilder.DropForeignKey(
                name: "fk_counted_tests_infants_infant_id",
                table: "counted_tests");

            migrationBuilder.DropForeignKey(
                name: "fk_counted_tests_sites_site_id",
                table: "counted_tests");

            migrationBuilder.DropForeignKey(
                name: "fk_screen_counts_sites_site_id",
                table: "screen_counts");

            migrationBuilder.DropPrimaryKey(
                name: "pk_screen_counts",
                table: "screen_counts");

            migrationBuilder.DropIndex(
                name: "ix_screen_counts_counted_by_grouping_changed_on",
                table: "screen_counts");

            migrationBuilder.DropIndex(
                name: "ix_screen_counts_counted_by_grouping_site_id_day",
                table: "screen_counts");

            migrationBuilder.DropIndex(
                name: "ix_screen_counts_site_id",
                table: "screen_counts");

            migrationBuilder.DropColumn(
                name: "id",
                table: "screen_counts");

            migrationBuilder.CreateTable(
                name: "count_changes",
                columns: table => new
                {
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    changed_on = table.Column<DateOnly>(type: "date", nullable: false),
                    tested_on = table.Column<DateOnly>(type: "date", nullable: false),
                    born_on = table.Column<DateOnly>(type: "date", nullable: false),
                    instrument = table.Column<string>(type: "text", nullable: false),
                    probe = table.Column<string>(type: "text", nullable: false),
                    screener = table.Column<string>(type: "text", nullable: false),
                    method = table.Column<string>(type: "text", nullable: false),
                    age = table.Column<string>(type: "text", nullable: false),
                    hour = table.Column<string>(type: "text", nullable: false),
                    received = table.Column<string>(type: "text", nullable: false),
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
                });

            migrationBuilder.CreateTable(
                name: "status_marks",
                columns: table => new
                {
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    born_on = table.Column<DateOnly>(type: "date", nullable: false)
                },
                constraints: table =>
                {
                });

            migrationBuilder.CreateTable(
                name: "status_counts",
                columns: table => new
                {
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    born_on = table.Column<DateOnly>(type: "date", nullable: false),
                    counted = table.Column<string>(type: "text", nullable: false),
                    state = table.Column<string>(type: "text", nullable: false),
                    closed = table.Column<bool>(type: "boolean", nullable: false),
                    infants = table.Column<int>(type: "integer", nullable: false),
                    holds_until = table.Column<DateOnly>(type: "date", nullable: false)
                },
                constraints: table =>
                {
                });

            migrationBuilder.CreateIndex(
                name: "ix_screen_counts_counted_by_grouping_changed_on_site_id_day_un",
                table: "screen_counts",
                columns: new[] { "counted_by", "grouping", "changed_on", "site_id", "day", "unit" },
                unique: true)
                .Annotation("Npgsql:NullsDistinct", false);

            migrationBuilder.CreateIndex(
                name: "ix_status_counts_counted_born_on_site_id",
                table: "status_counts",
                columns: new[] { "counted", "born_on", "site_id" });

            migrationBuilder.CreateIndex(
                name: "ix_status_counts_holds_until",
                table: "status_counts",
                column: "holds_until");

            migrationBuilder.CreateIndex(
                name: "ix_status_counts_site_id_born_on",
                table: "status_counts",
                columns: new[] { "site_id", "born_on" });

            // Everybody's status is counted by the first run of count-statuses.
            migrationBuilder.Sql(
                "insert into status_marks (site_id, born_on) select distinct birth_site_id, born_on from infant_status");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "count_changes");

            migrationBuilder.DropTable(
                name: "status_marks");

            migrationBuilder.DropTable(
                name: "status_counts");

            migrationBuilder.DropIndex(
                name: "ix_screen_counts_counted_by_grouping_changed_on_site_id_day_un",
                table: "screen_counts");

            migrationBuilder.AddColumn<long>(
                name: "id",
                table: "screen_counts",
                type: "bigint",
                nullable: false,
                defaultValue: 0L)
                .Annotation("Npgsql:ValueGenerationStrategy", NpgsqlValueGenerationStrategy.IdentityByDefaultColumn);

            migrationBuilder.AddPrimaryKey(
                name: "pk_screen_counts",
                table: "screen_counts",
                column: "id");

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

            migrationBuilder.AddForeignKey(
                name: "fk_counted_tests_infants_infant_id",
                table: "counted_tests",
                column: "infant_id",
                principalTable: "infants",
                principalColumn: "id",
                onDelete: ReferentialAction.Restrict);

            migrationBuilder.AddForeignKey(
                name: "fk_counted_tests_sites_site_id",
                table: "counted_tests",
                column: "site_id",
                principalTable: "sites",
                principalColumn: "id",
                onDelete: ReferentialAction.Restrict);

            migrationBuilder.AddForeignKey(
                name: "fk_screen_counts_sites_site_id",
                table: "screen_counts",
                column: "site_id",
                principalTable: "sites",
                principalColumn: "id",
                onDelete: ReferentialAction.Restrict);
        }
    }
}
