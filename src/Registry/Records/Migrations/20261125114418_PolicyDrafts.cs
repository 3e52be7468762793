using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class PolicyDrafts : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<DateTimeOffset>(
                name: "withdrawn_at",
                table: "policies",
                type: "timestamp with time zone",
                nullable: true);

            migrationBuilder.AddColumn<Guid>(
                name: "withdrawn_by",
                table: "policies",
                type: "uuid",
                nullable: true);

            migrationBuilder.AddColumn<DateOnly>(
                name: "identified_on",
                table: "infant_status",
                type: "date",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "laterality",
                table: "infant_status",
                type: "text",
                nullable: false,
                defaultValue: "none");

            migrationBuilder.AddColumn<string>(
                name: "left_degree",
                table: "infant_status",
                type: "text",
                nullable: false,
                defaultValue: "not_stated");

            migrationBuilder.AddColumn<string>(
                name: "left_finding",
                table: "infant_status",
                type: "text",
                nullable: false,
                defaultValue: "not_evaluated");

            migrationBuilder.AddColumn<string>(
                name: "right_degree",
                table: "infant_status",
                type: "text",
                nullable: false,
                defaultValue: "not_stated");

            migrationBuilder.AddColumn<string>(
                name: "right_finding",
                table: "infant_status",
                type: "text",
                nullable: false,
                defaultValue: "not_evaluated");

            migrationBuilder.CreateTable(
                name: "policy_drafts",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    document = table.Column<string>(type: "jsonb", nullable: false),
                    compared_with = table.Column<string>(type: "text", nullable: false),
                    as_of = table.Column<DateOnly>(type: "date", nullable: false),
                    drafted_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    drafted_by = table.Column<Guid>(type: "uuid", nullable: false),
                    infants = table.Column<int>(type: "integer", nullable: true),
                    counted = table.Column<int>(type: "integer", nullable: false),
                    changes = table.Column<string>(type: "jsonb", nullable: true),
                    decided_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    decided_by = table.Column<Guid>(type: "uuid", nullable: true),
                    decision = table.Column<string>(type: "text", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_policy_drafts", x => x.id);
                });

            // What was diagnosed is filled in by the next sweep; snapshots are computed again when they are asked for.
            migrationBuilder.Sql("""
                update infant_status set next_change_on = as_of where infant_id in (select infant_id from diagnoses);
                truncate status_snapshots, infant_status_snapshot;
                alter table infant_status_snapshot
                  add column identified_on date, add column laterality text not null, add column left_degree text not null,
                  add column left_finding text not null, add column right_degree text not null, add column right_finding text not null;
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql("""
                alter table infant_status_snapshot
                  drop column identified_on, drop column laterality, drop column left_degree, drop column left_finding,
                  drop column right_degree, drop column right_finding;
                """);

            migrationBuilder.DropTable(
                name: "policy_drafts");

            migrationBuilder.DropColumn(
                name: "withdrawn_at",
                table: "policies");

            migrationBuilder.DropColumn(
                name: "withdrawn_by",
                table: "policies");

            migrationBuilder.DropColumn(
                name: "identified_on",
                table: "infant_status");

            migrationBuilder.DropColumn(
                name: "laterality",
                table: "infant_status");

            migrationBuilder.DropColumn(
                name: "left_degree",
                table: "infant_status");

            migrationBuilder.DropColumn(
                name: "left_finding",
                table: "infant_status");

            migrationBuilder.DropColumn(
                name: "right_degree",
                table: "infant_status");

            migrationBuilder.DropColumn(
                name: "right_finding",
                table: "infant_status");
        }
    }
}
