using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class TestDetails : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "screening_details",
                columns: table => new
                {
                    screening_id = table.Column<Guid>(type: "uuid", nullable: false),
                    stimulus = table.Column<string>(type: "text", nullable: true),
                    duration_seconds = table.Column<decimal>(type: "numeric", nullable: true),
                    artefacts_rejected = table.Column<int>(type: "integer", nullable: true),
                    ear_canal_volume_ml = table.Column<decimal>(type: "numeric", nullable: true),
                    ambient_noise_db = table.Column<decimal>(type: "numeric", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_screening_details", x => x.screening_id);
                    table.ForeignKey(
                        name: "fk_screening_details_screenings_screening_id",
                        column: x => x.screening_id,
                        principalTable: "screenings",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "screening_bands",
                columns: table => new
                {
                    screening_id = table.Column<Guid>(type: "uuid", nullable: false),
                    frequency_hz = table.Column<int>(type: "integer", nullable: false),
                    level_db_spl = table.Column<decimal>(type: "numeric", nullable: true),
                    noise_db_spl = table.Column<decimal>(type: "numeric", nullable: true),
                    snr_db = table.Column<decimal>(type: "numeric", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_screening_bands", x => new { x.screening_id, x.frequency_hz });
                    table.ForeignKey(
                        name: "fk_screening_bands_screening_details_screening_id",
                        column: x => x.screening_id,
                        principalTable: "screening_details",
                        principalColumn: "screening_id",
                        onDelete: ReferentialAction.Restrict);
                });

            // The detail belongs to a fact and is never edited; it holds as long as its screening does.
            migrationBuilder.Sql("""
                create trigger screening_details_append_only before update or delete or truncate on screening_details
                  for each statement execute function refuse_change();
                create trigger screening_bands_append_only before update or delete or truncate on screening_bands
                  for each statement execute function refuse_change();
                """);

            // A test's detail in one row, its bands in the words of the intake: Hz:level:noise floor:ratio, in order of frequency.
            migrationBuilder.Sql("""
                create view test_details as
                select d.screening_id, d.stimulus, d.duration_seconds, d.artefacts_rejected, d.ear_canal_volume_ml, d.ambient_noise_db,
                    (select string_agg(rtrim(b.frequency_hz || ':' || coalesce(b.level_db_spl::text, '') || ':' || coalesce(b.noise_db_spl::text, '')
                        || ':' || coalesce(b.snr_db::text, ''), ':'), ';' order by b.frequency_hz)
                       from screening_bands b where b.screening_id = d.screening_id) as bands
                  from screening_details d;
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql("drop view test_details");

            migrationBuilder.DropTable(
                name: "screening_bands");

            migrationBuilder.DropTable(
                name: "screening_details");
        }
    }
}
