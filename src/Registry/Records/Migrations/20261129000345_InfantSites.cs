using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class InfantSites : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "infant_sites",
                columns: table => new
                {
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_infant_sites", x => new { x.site_id, x.infant_id });
                });

            // What is there by now; migrate makes the triggers that keep it (Access/InfantSites).
            migrationBuilder.Sql("""
                insert into infant_sites (site_id, infant_id)
                select site_id, infant_id from infant_identifiers where superseded_at is null
                union select site_id, infant_id from births where superseded_at is null
                union select site_id, infant_id from screenings where superseded_at is null
                union select site_id, infant_id from diagnoses where superseded_at is null
                union select site_id, infant_id from interventions where superseded_at is null
                union select site_id, infant_id from deaths where superseded_at is null
                union select site_id, infant_id from moves where superseded_at is null
                union select site_id, infant_id from transfers where superseded_at is null
                union select site_id, infant_id from refusals where superseded_at is null
                union select site_id, infant_id from risks where superseded_at is null
                union select site_id, infant_id from readmissions where superseded_at is null
                union select site_id, infant_id from medical_delays where superseded_at is null
                union select site_id, infant_id from contacts where superseded_at is null
                union select to_site_id, infant_id from transfers where superseded_at is null and to_site_id is not null
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            // What stands on it goes with it; migrate of the program before makes its own anew.
            migrationBuilder.Sql("""
                drop view if exists seen_infants, infants_of_site, infants_otherwise cascade;
                drop function if exists keep_infant_sites_by_site_id() cascade;
                drop function if exists keep_infant_sites_by_to_site_id() cascade;
                """);

            migrationBuilder.DropTable(
                name: "infant_sites");
        }
    }
}
