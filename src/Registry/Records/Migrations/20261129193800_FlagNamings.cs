using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class FlagNamings : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_quality_findings_site_id_cause_name_measure",
                table: "quality_findings");

            migrationBuilder.AddColumn<string>(
                name: "namings",
                table: "quality_findings",
                type: "jsonb",
                nullable: false,
                defaultValue: "[]");

            migrationBuilder.AddColumn<DateOnly>(
                name: "recorded_on",
                table: "quality_findings",
                type: "date",
                nullable: false,
                defaultValue: new DateOnly(1, 1, 1));

            // The night that recorded a flag was not kept until now: as if it had been the night of its evidence. What else was said of it
            // the next night says again. Two open flags that had come to one name are named as they were raised until then. And what was
            // done about a flag after it was watched is the state of it.
            migrationBuilder.Sql(
                """
                update quality_findings f set found_cause = f.cause, found_name = f.name
                 where f.closed_on is null and exists (
                   select 1 from quality_findings o where o.site_id = f.site_id and o.measure = f.measure and o.closed_on is null
                    group by o.found_cause, o.found_name, o.above having count(*) > 1);
                update quality_findings f set recorded_on = f.found_on, namings = (
                  select jsonb_agg(jsonb_build_object('on', n.day, 'part', jsonb_build_object('kind', n.cause, 'code', n.name),
                           'onset_on', f.onset_on, 'onset_first', f.onset_first, 'onset_last', f.onset_last, 'same', '[]'::jsonb,
                           'also', '[]'::jsonb, 'shadows', '[]'::jsonb)
                           || case when n.number = 1 then jsonb_build_object('sure', f.sure) else '{}'::jsonb end order by n.number)
                    from (values (1, f.found_on, f.cause, f.name), (2, f.as_of, f.found_cause, f.found_name)) n (number, day, cause, name)
                   where n.number = 1 or (n.cause, n.name) <> (f.cause, f.name));
                update quality_findings f set state = 'acted', watched_until = null
                 where f.state = 'watched' and exists (
                   select 1 from flag_acts a where a.finding_id = f.id and a.kind = 'acted'
                      and not exists (select 1 from flag_acts b where b.finding_id = f.id and b.takes_back = a.number)
                      and a.number > all (select w.number from flag_acts w where w.finding_id = f.id and w.kind = 'watched'
                           and not exists (select 1 from flag_acts b where b.finding_id = f.id and b.takes_back = w.number)));
                """);

            migrationBuilder.CreateIndex(
                name: "ix_quality_findings_open",
                table: "quality_findings",
                columns: new[] { "site_id", "found_cause", "found_name", "measure", "above" },
                unique: true,
                filter: "closed_on is null");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_quality_findings_open",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "namings",
                table: "quality_findings");

            migrationBuilder.DropColumn(
                name: "recorded_on",
                table: "quality_findings");

            // Before, a part could have one open flag of a measure, whichever its direction: the oldest stays open.
            migrationBuilder.Sql(
                """
                update quality_findings f set state = 'closed', closed_on = f.as_of
                 where f.closed_on is null and exists (
                   select 1 from quality_findings o where o.site_id = f.site_id and o.measure = f.measure and o.closed_on is null
                      and (o.cause, o.name) = (f.cause, f.name) and (o.found_on, o.id) < (f.found_on, f.id));
                """);

            migrationBuilder.CreateIndex(
                name: "ix_quality_findings_site_id_cause_name_measure",
                table: "quality_findings",
                columns: new[] { "site_id", "cause", "name", "measure" },
                unique: true,
                filter: "closed_on is null");
        }
    }
}
