using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class PublishedReports : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "published_reports",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    title = table.Column<string>(type: "text", nullable: false),
                    published_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    published_by = table.Column<Guid>(type: "uuid", nullable: false),
                    period_start = table.Column<DateOnly>(type: "date", nullable: false),
                    period_end = table.Column<DateOnly>(type: "date", nullable: false),
                    as_of = table.Column<DateOnly>(type: "date", nullable: false),
                    known_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    breakdown = table.Column<string>(type: "text", nullable: false),
                    vital_births = table.Column<int>(type: "integer", nullable: true),
                    policy_version = table.Column<string>(type: "text", nullable: false),
                    measure_set_version = table.Column<string>(type: "text", nullable: false),
                    program_version = table.Column<string>(type: "text", nullable: false),
                    fingerprint = table.Column<string>(type: "text", nullable: false),
                    figures = table.Column<string>(type: "jsonb", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_published_reports", x => x.id);
                });

            migrationBuilder.CreateIndex(
                name: "ix_published_reports_published_at",
                table: "published_reports",
                column: "published_at");

            // A report stays as it was published.
            migrationBuilder.Sql("""
                create trigger published_reports_append_only before update or delete or truncate on published_reports
                  for each statement execute function refuse_change();
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "published_reports");
        }
    }
}
