using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class ChanceMeetingAndReports : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "loss_histories",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    version = table.Column<int>(type: "integer", nullable: false),
                    made_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    policy_version = table.Column<string>(type: "text", nullable: false),
                    born_from = table.Column<DateOnly>(type: "date", nullable: false),
                    born_to = table.Column<DateOnly>(type: "date", nullable: false),
                    holds = table.Column<bool>(type: "boolean", nullable: false),
                    document = table.Column<string>(type: "jsonb", nullable: false),
                    @checked = table.Column<string>(name: "checked", type: "jsonb", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_loss_histories", x => x.id);
                });

            migrationBuilder.CreateTable(
                name: "site_report_mails",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    month = table.Column<DateOnly>(type: "date", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    sent_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_site_report_mails", x => x.id);
                    table.ForeignKey(
                        name: "fk_site_report_mails_people_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_site_report_mails_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "site_report_requests",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    requested_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    ended_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_site_report_requests", x => x.id);
                    table.ForeignKey(
                        name: "fk_site_report_requests_people_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_site_report_requests_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_loss_findings_found_on",
                table: "loss_findings",
                column: "found_on");

            migrationBuilder.CreateIndex(
                name: "ix_loss_findings_recovered_on",
                table: "loss_findings",
                column: "recovered_on");

            migrationBuilder.CreateIndex(
                name: "ix_infant_status_diagnosed_on",
                table: "infant_status",
                column: "diagnosed_on",
                filter: "diagnosed_state = 'met'");

            migrationBuilder.CreateIndex(
                name: "ix_hand_offs_acknowledge_by",
                table: "hand_offs",
                column: "acknowledge_by");

            migrationBuilder.CreateIndex(
                name: "ix_appointments_happened_on",
                table: "appointments",
                column: "happened_on",
                filter: "kind = 'no_show'");

            migrationBuilder.CreateIndex(
                name: "ix_loss_histories_version",
                table: "loss_histories",
                column: "version",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_site_report_mails_month_person_id_site_id",
                table: "site_report_mails",
                columns: new[] { "month", "person_id", "site_id" },
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_site_report_mails_person_id",
                table: "site_report_mails",
                column: "person_id");

            migrationBuilder.CreateIndex(
                name: "ix_site_report_mails_site_id",
                table: "site_report_mails",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_site_report_requests_person_id_site_id",
                table: "site_report_requests",
                columns: new[] { "person_id", "site_id" },
                unique: true,
                filter: "ended_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_site_report_requests_site_id",
                table: "site_report_requests",
                column: "site_id");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "loss_histories");

            migrationBuilder.DropTable(
                name: "site_report_mails");

            migrationBuilder.DropTable(
                name: "site_report_requests");

            migrationBuilder.DropIndex(
                name: "ix_loss_findings_found_on",
                table: "loss_findings");

            migrationBuilder.DropIndex(
                name: "ix_loss_findings_recovered_on",
                table: "loss_findings");

            migrationBuilder.DropIndex(
                name: "ix_infant_status_diagnosed_on",
                table: "infant_status");

            migrationBuilder.DropIndex(
                name: "ix_hand_offs_acknowledge_by",
                table: "hand_offs");

            migrationBuilder.DropIndex(
                name: "ix_appointments_happened_on",
                table: "appointments");
        }
    }
}
