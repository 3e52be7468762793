using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class Corrections : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "corrections",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    fact_id = table.Column<Guid>(type: "uuid", nullable: false),
                    action = table.Column<string>(type: "text", nullable: false),
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    recorded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    superseded_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: true),
                    submission_id = table.Column<Guid>(type: "uuid", nullable: true),
                    row_number = table.Column<int>(type: "integer", nullable: true)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_corrections", x => x.id);
                    table.ForeignKey(
                        name: "fk_corrections_infants_infant_id",
                        column: x => x.infant_id,
                        principalTable: "infants",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                    table.ForeignKey(
                        name: "fk_corrections_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_submission_id_row_number",
                table: "held_rows",
                columns: new[] { "submission_id", "row_number" },
                filter: "resolution is null and reason in ('nothing_recorded', 'others_rest_on_it')");

            migrationBuilder.CreateIndex(
                name: "ix_corrections_fact_id",
                table: "corrections",
                column: "fact_id",
                unique: true,
                filter: "superseded_at is null");

            migrationBuilder.CreateIndex(
                name: "ix_corrections_infant_id",
                table: "corrections",
                column: "infant_id");

            migrationBuilder.CreateIndex(
                name: "ix_corrections_site_id",
                table: "corrections",
                column: "site_id");

            // A correction is a fact like any other.
            migrationBuilder.Sql("""
                create trigger corrections_no_edit before update on corrections for each row execute function refuse_fact_edit();
                create trigger corrections_no_delete before delete or truncate on corrections for each statement execute function refuse_change();
                """);

            // What rows closed before this table was there: the fact of the same kind and name that was recorded at that moment closed it,
            // unless it only restates an earlier one (an undo).
            foreach (var (table, kind, key) in new[]
            {
                ("births", "birth", "true"),
                ("screenings", "screening", "new.site_id = old.site_id and new.ear = old.ear and new.performed_at = old.performed_at"),
                ("diagnoses", "diagnosis", "new.site_id = old.site_id and new.evaluated_on = old.evaluated_on"),
                ("deaths", "death", "true"),
                ("refusals", "refusal", "new.step = old.step and new.refused_on = old.refused_on"),
                ("readmissions", "readmission", "new.admitted_on = old.admitted_on"),
                ("medical_delays", "medical_delay", "new.step = old.step and new.from_on = old.from_on"),
            })
            {
                migrationBuilder.Sql($"""
                    insert into corrections (id, kind, fact_id, action, infant_id, site_id, recorded_at, submission_id, row_number)
                    select distinct on (old.id) gen_random_uuid(), '{kind}', old.id, 'report', old.infant_id, s.site_id, old.superseded_at,
                        new.submission_id, new.row_number
                      from {table} old
                      join {table} new on new.infant_id = old.infant_id and new.id <> old.id and new.recorded_at = old.superseded_at and {key}
                      join submissions s on s.id = new.submission_id
                     where old.superseded_at is not null
                       and (new.submission_id, new.row_number) is distinct from (old.submission_id, old.row_number)
                       and not exists (select from {table} first where first.infant_id = new.infant_id and first.submission_id = new.submission_id
                           and first.row_number = new.row_number and first.recorded_at < new.recorded_at)
                     order by old.id, new.submission_id = old.submission_id and new.row_number < old.row_number, new.row_number
                    """);
            }
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "corrections");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_submission_id_row_number",
                table: "held_rows");
        }
    }
}
