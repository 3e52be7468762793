using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class FamilyAndCare : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "care",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    stated_on = table.Column<DateOnly>(type: "date", nullable: true),
                    primary_care = table.Column<string>(type: "text", nullable: true),
                    primary_care_phone = table.Column<string>(type: "text", nullable: true),
                    primary_care_confirmed = table.Column<bool>(type: "boolean", nullable: true),
                    insurance = table.Column<string>(type: "text", nullable: true),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_care", x => x.id);
                    table.ForeignKey(
                        name: "fk_care_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_care_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "family_contacts",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    stated_on = table.Column<DateOnly>(type: "date", nullable: true),
                    kind = table.Column<string>(type: "text", nullable: false),
                    person_name = table.Column<string>(type: "text", nullable: true),
                    contact_phone = table.Column<string>(type: "text", nullable: true),
                    phone_use = table.Column<string>(type: "text", nullable: true),
                    other_phone = table.Column<string>(type: "text", nullable: true),
                    other_phone_use = table.Column<string>(type: "text", nullable: true),
                    contact_phone_key = table.Column<string>(type: "text", nullable: true),
                    other_phone_key = table.Column<string>(type: "text", nullable: true),
                    contact_email = table.Column<string>(type: "text", nullable: true),
                    street = table.Column<string>(type: "text", nullable: true),
                    city = table.Column<string>(type: "text", nullable: true),
                    postal_code = table.Column<string>(type: "text", nullable: true),
                    residence_state = table.Column<string>(type: "text", nullable: true),
                    language = table.Column<string>(type: "text", nullable: true),
                    interpreter_needed = table.Column<bool>(type: "boolean", nullable: true),
                    preferred_channel = table.Column<string>(type: "text", nullable: true),
                    preferred_hours = table.Column<string>(type: "text", nullable: true),
                    holds_custody = table.Column<bool>(type: "boolean", nullable: true),
                    may_be_told = table.Column<bool>(type: "boolean", nullable: true),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_family_contacts", x => x.id);
                    table.ForeignKey(
                        name: "fk_family_contacts_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_family_contacts_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_care_infant_id",
                table: "care",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_care_site_id",
                table: "care",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_family_contacts_contact_phone_key",
                table: "family_contacts",
                column: "contact_phone_key",
                filter: "superseded_at is null and contact_phone_key is not null");

            migrationBuilder.CreateIndex(
                name: "ix_family_contacts_infant_id",
                table: "family_contacts",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_family_contacts_other_phone_key",
                table: "family_contacts",
                column: "other_phone_key",
                filter: "superseded_at is null and other_phone_key is not null");

            migrationBuilder.CreateIndex(
                name: "ix_family_contacts_site_id",
                table: "family_contacts",
                column: "site_id");

            migrationBuilder.Sql("""
                create trigger family_contacts_no_edit before update on family_contacts for each row execute function refuse_fact_edit();
                create trigger family_contacts_no_delete before delete or truncate on family_contacts
                  for each statement execute function refuse_change();
                create trigger care_no_edit before update on care for each row execute function refuse_fact_edit();
                create trigger care_no_delete before delete or truncate on care for each statement execute function refuse_change();
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "care");

            migrationBuilder.DropTable(
                name: "family_contacts");
        }
    }
}
