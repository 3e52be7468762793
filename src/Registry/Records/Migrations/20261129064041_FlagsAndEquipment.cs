using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class FlagsAndEquipment : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_quality_findings_site_id_cause_name_measure",
                table: "quality_findings");

            migrationBuilder.AddColumn<int>(
                name: "acts",
                table: "quality_findings",
                type: "integer",
                nullable: false,
                defaultValue: 0);

            migrationBuilder.AddColumn<DateOnly>(
                name: "closed_on",
                table: "quality_findings",
                type: "date",
                nullable: true);

            migrationBuilder.AddColumn<double>(
                name: "explained_least",
                table: "quality_findings",
                type: "double precision",
                nullable: true);

            migrationBuilder.AddColumn<double>(
                name: "explained_most",
                table: "quality_findings",
                type: "double precision",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "found_cause",
                table: "quality_findings",
                type: "text",
                nullable: false,
                defaultValue: "");

            migrationBuilder.AddColumn<string>(
                name: "found_name",
                table: "quality_findings",
                type: "text",
                nullable: false,
                defaultValue: "");

            migrationBuilder.AddColumn<string>(
                name: "policy_version",
                table: "quality_findings",
                type: "text",
                nullable: false,
                defaultValue: "");

            migrationBuilder.AddColumn<string>(
                name: "state",
                table: "quality_findings",
                type: "text",
                nullable: false,
                defaultValue: "new");

            migrationBuilder.AddColumn<DateOnly>(
                name: "watched_from",
                table: "quality_findings",
                type: "date",
                nullable: false,
                defaultValue: new DateOnly(1, 1, 1));

            migrationBuilder.AddColumn<DateOnly>(
                name: "watched_until",
                table: "quality_findings",
                type: "date",
                nullable: true);

            // What was no longer found was closed by the night until now; from here on somebody closes it.
            migrationBuilder.Sql(
                """
                update quality_findings set found_cause = cause, found_name = name, closed_on = resolved_on,
                       state = case when resolved_on is null then 'new' else 'closed' end,
                       watched_from = date_trunc('quarter', found_on)::date - 365;
                """);

            migrationBuilder.CreateTable(
                name: "equipment_events",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    unit = table.Column<string>(type: "text", nullable: false),
                    name = table.Column<string>(type: "text", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    day = table.Column<DateOnly>(type: "date", nullable: false),
                    words = table.Column<string>(type: "text", nullable: true),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    recorded_by = table.Column<Guid>(type: "uuid", nullable: false),
                    taken_back_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    taken_back_by = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_equipment_events", x => x.id);
                    table.ForeignKey(
                        name: "fk_equipment_events_people_recorded_by",
                        column: x => x.recorded_by,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_equipment_events_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "flag_acts",
                columns: table => new
                {
                    finding_id = table.Column<Guid>(type: "uuid", nullable: false),
                    number = table.Column<int>(type: "integer", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    day = table.Column<DateOnly>(type: "date", nullable: true),
                    reason = table.Column<string>(type: "text", nullable: true),
                    words = table.Column<string>(type: "text", nullable: true),
                    takes_back = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_flag_acts", x => new { x.finding_id, x.number });
                    table.ForeignKey(
                        name: "fk_flag_acts_people_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_flag_acts_quality_findings_finding_id",
                        column: x => x.finding_id,
                        principalTable: "quality_findings",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "flag_digests",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    week = table.Column<DateOnly>(type: "date", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    sent_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_flag_digests", x => x.id);
                    table.ForeignKey(
                        name: "fk_flag_digests_people_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_flag_digests_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_quality_findings_site_id_cause_name_measure",
                table: "quality_findings",
                columns: new[] { "site_id", "cause", "name", "measure" },
                unique: true,
                filter: "closed_on is null");

            migrationBuilder.CreateIndex(
                name: "ix_equipment_events_recorded_by",
                table: "equipment_events",
                column: "recorded_by");

            migrationBuilder.CreateIndex(
                name: "ix_equipment_events_site_id_day",
                table: "equipment_events",
                columns: new[] { "site_id", "day" });

            migrationBuilder.CreateIndex(
                name: "ix_flag_acts_person_id",
                table: "flag_acts",
                column: "person_id");

            migrationBuilder.CreateIndex(
                name: "ix_flag_digests_person_id",
                table: "flag_digests",
                column: "person_id");

            migrationBuilder.CreateIndex(
                name: "ix_flag_digests_site_id",
                table: "flag_digests",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_flag_digests_week_person_id_site_id",
                table: "flag_digests",
                columns: new[] { "week", "person_id", "site_id" },
                unique: true)
                .Annotation("Npgsql:NullsDistinct", false);

            migrationBuilder.Sql(
                """
                create trigger flag_acts_append_only before delete or truncate on flag_acts
                  for each statement execute function refuse_change();
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "equipment_events");

            migrationBuilder.DropTable(
                name: "flag_acts");

            migrationBuilder.DropTable(
                name: "flag_digests");

            migrationBuilder.DropIndex(
                name: "ix_quality_findings_site_id_cause_name_measure",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "acts",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "closed_on",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "explained_least",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "explained_most",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "found_cause",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "found_name",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "policy_version",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "state",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "watched_from",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "watched_until",
                table: "quality_findings");

            migrationBuilder.CreateIndex(
                name: "ix_quality_findings_site_id_cause_name_measure",
                table: "quality_findings",
                columns: new[] { "site_id", "cause", "name", "measure" },
                unique: true,
                filter: "resolved_on is null");
        }
    }
}
