using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class SearchesOpeningsViews : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "clinic_openings",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    opens_on = table.Column<DateOnly>(type: "date", nullable: false),
                    starts_at = table.Column<TimeOnly>(type: "time without time zone", nullable: false),
                    minutes = table.Column<int>(type: "integer", nullable: false),
                    capacity = table.Column<int>(type: "integer", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    entered_by = table.Column<Guid>(type: "uuid", nullable: false),
                    withdrawn_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    withdrawn_by = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_clinic_openings", x => x.id);
                    table.ForeignKey(
                        name: "fk_clinic_openings_asp_net_users_entered_by",
                        column: x => x.entered_by,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_clinic_openings_asp_net_users_withdrawn_by",
                        column: x => x.withdrawn_by,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_clinic_openings_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "saved_views",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    is_shared = table.Column<bool>(type: "boolean", nullable: false),
                    name = table.Column<string>(type: "text", nullable: false),
                    filter = table.Column<string>(type: "text", nullable: false),
                    saved_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_saved_views", x => x.id);
                    table.ForeignKey(
                        name: "fk_saved_views_asp_net_users_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_saved_views_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "searches",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    searched_on = table.Column<DateOnly>(type: "date", nullable: false),
                    looked_at = table.Column<string[]>(type: "text[]", nullable: false),
                    result = table.Column<string>(type: "text", nullable: false),
                    note = table.Column<string>(type: "text", nullable: true),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    entered_by = table.Column<Guid>(type: "uuid", nullable: false),
                    entered_as = table.Column<string>(type: "text", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    form_key = table.Column<Guid>(type: "uuid", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_searches", x => x.id);
                    table.ForeignKey(
                        name: "fk_searches_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_searches_people_entered_by",
                        column: x => x.entered_by,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_searches_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "closed_work",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    reason = table.Column<string>(type: "text", nullable: false),
                    closed_on = table.Column<DateOnly>(type: "date", nullable: false),
                    closed_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    closed_by = table.Column<Guid>(type: "uuid", nullable: false),
                    closed_as = table.Column<string>(type: "text", nullable: false),
                    reopened_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    reopened_by = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_closed_work", x => x.id);
                    table.ForeignKey(
                        name: "fk_closed_work_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_closed_work_people_closed_by",
                        column: x => x.closed_by,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_closed_work_people_reopened_by",
                        column: x => x.reopened_by,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "booked_openings",
                columns: table => new
                {
                    appointment_id = table.Column<Guid>(type: "uuid", nullable: false),
                    opening_id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_booked_openings", x => x.appointment_id);
                    table.ForeignKey(
                        name: "fk_booked_openings_appointments_appointment_id",
                        column: x => x.appointment_id,
                        principalTable: "appointments",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_booked_openings_clinic_openings_opening_id",
                        column: x => x.opening_id,
                        principalTable: "clinic_openings",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_booked_openings_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "default_views",
                columns: table => new
                {
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    view_id = table.Column<Guid>(type: "uuid", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_default_views", x => x.person_id);
                    table.ForeignKey(
                        name: "fk_default_views_asp_net_users_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_default_views_saved_view_view_id",
                        column: x => x.view_id,
                        principalTable: "saved_views",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Cascade);
                });

            migrationBuilder.CreateIndex(
                name: "ix_births_mother_born_on_mother_given_key",
                table: "births",
                columns: new[] { "mother_born_on", "mother_given_key" },
                filter: "superseded_at is null and mother_born_on is not null");

            migrationBuilder.CreateIndex(
                name: "ix_booked_openings_infant_id",
                table: "booked_openings",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_booked_openings_opening_id",
                table: "booked_openings",
                column: "opening_id");

            migrationBuilder.CreateIndex(
                name: "ix_clinic_openings_entered_by",
                table: "clinic_openings",
                column: "entered_by");

            migrationBuilder.CreateIndex(
                name: "ix_clinic_openings_site_id_opens_on_starts_at_step",
                table: "clinic_openings",
                columns: new[] { "site_id", "opens_on", "starts_at", "step" },
                unique: true,
                filter: "withdrawn_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_clinic_openings_withdrawn_by",
                table: "clinic_openings",
                column: "withdrawn_by");

            migrationBuilder.CreateIndex(
                name: "ix_default_views_view_id",
                table: "default_views",
                column: "view_id");

            migrationBuilder.CreateIndex(
                name: "ix_saved_views_person_id",
                table: "saved_views",
                column: "person_id");

            migrationBuilder.CreateIndex(
                name: "ix_saved_views_site_id",
                table: "saved_views",
                column: "site_id",
                filter: "is_shared");

            migrationBuilder.CreateIndex(
                name: "ix_searches_entered_by",
                table: "searches",
                column: "entered_by");

            migrationBuilder.CreateIndex(
                name: "ix_searches_form_key",
                table: "searches",
                column: "form_key",
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_searches_infant_id",
                table: "searches",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_searches_site_id",
                table: "searches",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_closed_work_closed_by",
                table: "closed_work",
                column: "closed_by");

            migrationBuilder.CreateIndex(
                name: "ix_closed_work_infant_id",
                table: "closed_work",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ux_closed_work_standing",
                table: "closed_work",
                column: "infant_id",
                unique: true,
                filter: "reopened_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_closed_work_reopened_by",
                table: "closed_work",
                column: "reopened_by");

            // What was searched and closed is added, and ended; an appointment's place is added only. Erasing an infant empties the notes.
            migrationBuilder.Sql(
                """
                create trigger searches_no_delete before delete or truncate on searches
                  for each statement execute function refuse_change();
                create trigger closed_work_no_delete before delete or truncate on closed_work
                  for each statement execute function refuse_change();
                create trigger clinic_openings_no_delete before delete or truncate on clinic_openings
                  for each statement execute function refuse_change();
                create trigger booked_openings_append_only before update or delete or truncate on booked_openings
                  for each statement execute function refuse_change();

                create function empty_searches_of_erased() returns trigger
                  language plpgsql security definer set search_path = public, pg_temp as $$
                begin
                  update searches set note = null where infant_id = new.infant_id and note is not null;
                  return null;
                end $$;
                revoke all on function empty_searches_of_erased() from public;
                create trigger erasure_requests_empty_searches after update on erasure_requests
                  for each row when (new.decision = 'erased' and old.decision is null) execute function empty_searches_of_erased();
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql(
                "drop trigger erasure_requests_empty_searches on erasure_requests; drop function empty_searches_of_erased();");

            migrationBuilder.DropTable(
                name: "booked_openings");

            migrationBuilder.DropTable(
                name: "default_views");

            migrationBuilder.DropTable(
                name: "searches");

            migrationBuilder.DropTable(
                name: "closed_work");

            migrationBuilder.DropTable(
                name: "clinic_openings");

            migrationBuilder.DropTable(
                name: "saved_views");

            migrationBuilder.DropIndex(
                name: "ix_births_mother_born_on_mother_given_key",
                table: "births");
        }
    }
}
