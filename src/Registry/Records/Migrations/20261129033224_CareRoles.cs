using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class CareRoles : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<string[]>(
                name: "counties",
                table: "person_places",
                type: "text[]",
                nullable: false,
                defaultValueSql: "'{}'");

            migrationBuilder.AddColumn<string[]>(
                name: "counties",
                table: "people",
                type: "text[]",
                nullable: false,
                defaultValueSql: "'{}'");

            migrationBuilder.CreateTable(
                name: "infant_assignments",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    assigned_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    assigned_by = table.Column<Guid>(type: "uuid", nullable: false),
                    ended_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    ended_by = table.Column<Guid>(type: "uuid", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_infant_assignments", x => x.id);
                    table.ForeignKey(
                        name: "fk_infant_assignments_asp_net_users_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_infant_assignments_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "infant_shown",
                columns: table => new
                {
                    shown_to = table.Column<string>(type: "text", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_infant_shown", x => new { x.shown_to, x.infant_id });
                });

            migrationBuilder.CreateTable(
                name: "opened_glasses",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    person_id = table.Column<Guid>(type: "uuid", nullable: false),
                    role = table.Column<string>(type: "text", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    reason = table.Column<string>(type: "text", nullable: false),
                    words = table.Column<string>(type: "text", nullable: false),
                    opened_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    ends_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    ended_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    ended_by = table.Column<Guid>(type: "uuid", nullable: true),
                    told_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_opened_glasses", x => x.id);
                    table.ForeignKey(
                        name: "fk_opened_glasses_asp_net_users_person_id",
                        column: x => x.person_id,
                        principalTable: "people",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_opened_glasses_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "site_heirs",
                columns: table => new
                {
                    heir_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_site_heirs", x => new { x.heir_id, x.site_id });
                });

            migrationBuilder.CreateIndex(
                name: "ix_infant_assignments_infant_id",
                table: "infant_assignments",
                column: "infant_id",
                unique: true,
                filter: "ended_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_infant_assignments_infant_id1",
                table: "infant_assignments",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_infant_assignments_person_id",
                table: "infant_assignments",
                column: "person_id",
                filter: "ended_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_infant_shown_infant_id",
                table: "infant_shown",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_site_heirs_site_id",
                table: "site_heirs",
                column: "site_id");

            migrationBuilder.CreateIndex(
                name: "ix_opened_glasses_infant_id",
                table: "opened_glasses",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_opened_glasses_opened_at",
                table: "opened_glasses",
                column: "opened_at");

            migrationBuilder.CreateIndex(
                name: "ix_opened_glasses_person_id_ends_at",
                table: "opened_glasses",
                columns: new[] { "person_id", "ends_at" },
                filter: "ended_at is null");

            migrationBuilder.Sql(Registry.Platform.EmbeddedSql.Of<RegistryDb>("Guards.Roles"));
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            // What stands on them goes with them; migrate of the program before makes its own anew.
            migrationBuilder.Sql("""
                drop view if exists seen_infants, infants_of_site, infants_otherwise cascade;
                drop policy if exists seen_by_viewer on infant_sites;
                drop policy if exists seen_by_viewer on infant_shown;
                drop function if exists keep_counties_by_births() cascade;
                drop function if exists keep_counties_by_sites() cascade;
                drop function if exists refresh_infant_counties(uuid[]) cascade;
                drop function if exists keep_infant_shown() cascade;
                drop function if exists keep_site_heirs() cascade;
                drop function empty_words_of_erased() cascade;
                drop function refuse_edit_of_access() cascade;
                """);

            migrationBuilder.DropTable(
                name: "infant_assignments");

            migrationBuilder.DropTable(
                name: "infant_shown");

            migrationBuilder.DropTable(
                name: "opened_glasses");

            migrationBuilder.DropTable(
                name: "site_heirs");

            migrationBuilder.DropColumn(
                name: "counties",
                table: "person_places");

            migrationBuilder.DropColumn(
                name: "counties",
                table: "people");
        }
    }
}
