using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class EvaluationDetails : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<string>(
                name: "evaluation_place",
                table: "diagnoses",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "evaluator",
                table: "diagnoses",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "post_discharge_provider",
                table: "births",
                type: "text",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "diagnosis_details",
                columns: table => new
                {
                    diagnosis_id = table.Column<Guid>(type: "uuid", nullable: false),
                    behavioral_method = table.Column<string>(type: "text", nullable: true),
                    air_transducer = table.Column<string>(type: "text", nullable: true),
                    right_tympanogram_low = table.Column<string>(type: "text", nullable: true),
                    right_tympanogram_high = table.Column<string>(type: "text", nullable: true),
                    left_tympanogram_low = table.Column<string>(type: "text", nullable: true),
                    left_tympanogram_high = table.Column<string>(type: "text", nullable: true),
                    right_emissions = table.Column<string>(type: "text", nullable: true),
                    left_emissions = table.Column<string>(type: "text", nullable: true),
                    emissions_method = table.Column<string>(type: "text", nullable: true),
                    abr_scale = table.Column<string>(type: "text", nullable: true),
                    abr_correction = table.Column<string>(type: "text", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_diagnosis_details", x => x.diagnosis_id);
                    table.ForeignKey(
                        name: "fk_diagnosis_details_diagnoses_diagnosis_id",
                        column: x => x.diagnosis_id,
                        principalTable: "diagnoses",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateTable(
                name: "diagnosis_thresholds",
                columns: table => new
                {
                    diagnosis_id = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    ear = table.Column<string>(type: "text", nullable: false),
                    frequency_hz = table.Column<int>(type: "integer", nullable: false),
                    level_db = table.Column<int>(type: "integer", nullable: false),
                    no_response = table.Column<bool>(type: "boolean", nullable: false),
                    masked = table.Column<bool>(type: "boolean", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_diagnosis_thresholds", x => new { x.diagnosis_id, x.kind, x.ear, x.frequency_hz });
                    table.ForeignKey(
                        name: "fk_diagnosis_thresholds_diagnosis_details_diagnosis_id",
                        column: x => x.diagnosis_id,
                        principalTable: "diagnosis_details",
                        principalColumn: "diagnosis_id",
                        onDelete: ReferentialAction.Restrict);
                });

            // The detail belongs to a fact and is never edited; it holds as long as its diagnosis does.
            migrationBuilder.Sql("""
                create trigger diagnosis_details_append_only before update or delete or truncate on diagnosis_details
                  for each statement execute function refuse_change();
                create trigger diagnosis_thresholds_append_only before update or delete or truncate on diagnosis_thresholds
                  for each statement execute function refuse_change();
                """);

            // An evaluation's detail in one row, its thresholds in the words of the intake: Hz:level, > before it no response, m behind it masked.
            migrationBuilder.Sql("""
                create view evaluation_details as
                select d.*, l.*
                  from diagnosis_details d
                 cross join lateral (
                   select
                      string_agg(t.said, ';' order by t.frequency_hz) filter (where t.kind = 'air' and t.ear = 'right') as right_air,
                      string_agg(t.said, ';' order by t.frequency_hz) filter (where t.kind = 'air' and t.ear = 'left') as left_air,
                      string_agg(t.said, ';' order by t.frequency_hz) filter (where t.kind = 'bone' and t.ear = 'right') as right_bone,
                      string_agg(t.said, ';' order by t.frequency_hz) filter (where t.kind = 'bone' and t.ear = 'left') as left_bone,
                      string_agg(t.said, ';' order by t.frequency_hz) filter (where t.kind = 'sound_field' and t.ear = 'both') as sound_field,
                      string_agg(t.said, ';' order by t.frequency_hz) filter (where t.kind = 'abr_air' and t.ear = 'right') as right_abr,
                      string_agg(t.said, ';' order by t.frequency_hz) filter (where t.kind = 'abr_air' and t.ear = 'left') as left_abr,
                      string_agg(t.said, ';' order by t.frequency_hz) filter (where t.kind = 'abr_bone' and t.ear = 'right') as right_abr_bone,
                      string_agg(t.said, ';' order by t.frequency_hz) filter (where t.kind = 'abr_bone' and t.ear = 'left') as left_abr_bone
                     from (select kind, ear, frequency_hz, case frequency_hz when 0 then 'click' else frequency_hz::text end || ':'
                              || case when no_response then '>' else '' end || level_db || case when masked then 'm' else '' end as said
                             from diagnosis_thresholds where diagnosis_id = d.diagnosis_id) t) l;
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql("drop view evaluation_details");

            migrationBuilder.DropTable(
                name: "diagnosis_thresholds");

            migrationBuilder.DropTable(
                name: "diagnosis_details");

            migrationBuilder.DropColumn(
                name: "evaluation_place",
                table: "diagnoses");

            migrationBuilder.DropColumn(
                name: "evaluator",
                table: "diagnoses");

            migrationBuilder.DropColumn(
                name: "post_discharge_provider",
                table: "births");
        }
    }
}
