using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class WorkInbox : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<DateOnly>(
                name: "call_again_on",
                table: "contacts",
                type: "date",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "channel",
                table: "contacts",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "entered_as",
                table: "contacts",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<Guid>(
                name: "entered_by",
                table: "contacts",
                type: "uuid",
                nullable: true);

            migrationBuilder.AddColumn<Guid>(
                name: "form_key",
                table: "contacts",
                type: "uuid",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "note",
                table: "contacts",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "person",
                table: "contacts",
                type: "text",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "appointments",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    appointment_on = table.Column<DateOnly>(type: "date", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    happened_on = table.Column<DateOnly>(type: "date", nullable: false),
                    appointment_time = table.Column<TimeOnly>(type: "time without time zone", nullable: true),
                    appointment_site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    appointment_place = table.Column<string>(type: "text", nullable: true),
                    entered_by = table.Column<Guid>(type: "uuid", nullable: true),
                    entered_as = table.Column<string>(type: "text", nullable: true),
                    form_key = table.Column<Guid>(type: "uuid", nullable: true),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_appointments", x => x.id);
                    table.ForeignKey(
                        name: "fk_appointments_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_appointments_sites_appointment_site_id",
                        column: x => x.appointment_site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_appointments_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "infant_work",
                columns: table => new
                {
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    tray = table.Column<string>(type: "text", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    due_on = table.Column<DateOnly>(type: "date", nullable: false),
                    rank = table.Column<long>(type: "bigint", nullable: false),
                    reasons = table.Column<string>(type: "jsonb", nullable: false),
                    responsible_site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    changes_on = table.Column<DateOnly>(type: "date", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_infant_work", x => x.infant_id);
                });

            migrationBuilder.CreateTable(
                name: "work_put_off",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    until_on = table.Column<DateOnly>(type: "date", nullable: false),
                    reason = table.Column<string>(type: "text", nullable: false),
                    decided_by = table.Column<Guid>(type: "uuid", nullable: false),
                    decided_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    ended_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_work_put_off", x => x.id);
                    table.ForeignKey(
                        name: "fk_work_put_off_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_work_put_off_people_decided_by",
                        column: x => x.decided_by,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_contacts_form_key",
                table: "contacts",
                column: "form_key",
                unique: true,
                filter: "form_key is not null");

            migrationBuilder.CreateIndex(
                name: "ix_appointments_appointment_site_id",
                table: "appointments",
                column: "appointment_site_id");

            migrationBuilder.CreateIndex(
                name: "ix_appointments_form_key",
                table: "appointments",
                column: "form_key",
                filter: "form_key is not null");

            migrationBuilder.CreateIndex(
                name: "ix_appointments_infant_id",
                table: "appointments",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_appointments_site_id",
                table: "appointments",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_infant_work_changes_on",
                table: "infant_work",
                column: "changes_on");

            migrationBuilder.CreateIndex(
                name: "ix_infant_work_responsible_site_id_tray_rank_infant_id",
                table: "infant_work",
                columns: new[] { "responsible_site_id", "tray", "rank", "infant_id" });

            migrationBuilder.CreateIndex(
                name: "ix_infant_work_tray_rank_infant_id",
                table: "infant_work",
                columns: new[] { "tray", "rank", "infant_id" });

            migrationBuilder.CreateIndex(
                name: "ix_work_put_off_decided_by",
                table: "work_put_off",
                column: "decided_by");

            migrationBuilder.CreateIndex(
                name: "ix_work_put_off_infant_id",
                table: "work_put_off",
                column: "infant_id",
                unique: true,
                filter: "ended_at is null");

            migrationBuilder.Sql("""
                create trigger appointments_no_edit before update on appointments for each row execute function refuse_fact_edit();
                create trigger appointments_no_delete before delete or truncate on appointments
                  for each statement execute function refuse_change();
                -- The sweep at the next start sorts everyone.
                update infant_status set next_change_on = as_of;
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "appointments");

            migrationBuilder.DropTable(
                name: "infant_work");

            migrationBuilder.DropTable(
                name: "work_put_off");

            migrationBuilder.DropIndex(
                name: "ix_contacts_form_key",
                table: "contacts");

            migrationBuilder.DropColumn(
                name: "call_again_on",
                table: "contacts");

            migrationBuilder.DropColumn(
                name: "channel",
                table: "contacts");

            migrationBuilder.DropColumn(
                name: "entered_as",
                table: "contacts");

            migrationBuilder.DropColumn(
                name: "entered_by",
                table: "contacts");

            migrationBuilder.DropColumn(
                name: "form_key",
                table: "contacts");

            migrationBuilder.DropColumn(
                name: "note",
                table: "contacts");

            migrationBuilder.DropColumn(
                name: "person",
                table: "contacts");
        }
    }
}
