using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class CountsOfMonths : Migration
    {
        private const string Figures = "tests, no_seal, noise, other_reason, refers, infants, ears, concluded, both_ears, referred, "
            + "referred_both, with_age, early, first_day, sessions, session_both_ears, session_referred, session_referred_both";

        private static string Each(string expression, string between = ", ") => string.Join(between,
            Figures.Split(", ").Select(figure => expression.Replace("#", figure, StringComparison.Ordinal)));

        /// <summary>Sums of days put together, by what each day changed and by what is known now.</summary>
        private static string PutTogether(string countedBy, string unit, string day, string of) => $"""
            insert into screen_counts (counted_by, grouping, site_id, unit, day, changed_on, {Figures})
            select {countedBy}, {unit}, {day}, changed_on, {Each("sum(#)::int")} from screen_counts where {of}
             group by 1, 2, 3, 4, 5, 6 having {Each("sum(#) <> 0", " or ")};
            """;

        private static string Places()
        {
            var units = new[] { "site", "instrument", "probe", "screener", "method", "age", "hour" };
            var places = units.SelectMany(unit => new[]
            {
                ("test", unit, "c.tested_on"), ("birth", unit, "c.born_on"), ("test_month", unit, "date_trunc('month', c.tested_on)::date"),
                ("birth_month", unit, "date_trunc('month', c.born_on)::date"),
            }).Append(("test", "received", "c.tested_on")).Append(("test", "arrival", "c.tested_on"))
                .Append(("test_month", "arrival", "date_trunc('month', c.tested_on)::date"));
            return string.Join(", ", places.Select(p => $"('{p.Item1}', '{p.Item2}', {Unit(p.Item2)}, {p.Item3})"));
        }

        private static string Unit(string grouping) => grouping switch
        {
            "site" => "''",
            "arrival" => "to_char(least(999, greatest(0, left(c.received, 10)::date - c.tested_on)), 'FM000')",
            _ => "c." + grouping,
        };

        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_status_counts_counted_born_on_site_id",
                table: "status_counts");

            migrationBuilder.DropColumn(
                name: "late",
                table: "screen_counts");

            migrationBuilder.DropColumn(
                name: "late",
                table: "count_changes");

            migrationBuilder.AddColumn<bool>(
                name: "whole_month",
                table: "status_counts",
                type: "boolean",
                nullable: false,
                defaultValue: false);

            migrationBuilder.CreateIndex(
                name: "ix_status_counts_whole_month_counted_born_on_site_id",
                table: "status_counts",
                columns: new[] { "whole_month", "counted", "born_on", "site_id" });

            // How long each test was on its way, from the days of receipt; then months, from their days.
            migrationBuilder.Sql(PutTogether("'test', 'arrival', site_id",
                "to_char(least(999, greatest(0, left(unit, 10)::date - day)), 'FM000')", "day", "grouping = 'received'"));
            migrationBuilder.Sql(PutTogether(
                "counted_by || '_month', grouping, site_id", "unit", "date_trunc('month', day)::date", "grouping <> 'received'"));
            migrationBuilder.Sql("""
                insert into status_counts (whole_month, site_id, born_on, counted, state, closed, infants, holds_until)
                select true, site_id, date_trunc('month', born_on)::date, counted, state, closed, sum(infants)::int,
                       min(min(holds_until)) over (partition by site_id, date_trunc('month', born_on)::date)
                  from status_counts group by 2, 3, 4, 5, 6;
                """);

            // The sums, and each change that is not in them yet at every place it belongs to: in what is known now, and in what its day changed.
            migrationBuilder.Sql($"""
                create view all_screen_counts as
                select counted_by, grouping, site_id, unit, day, changed_on, {Figures} from screen_counts
                union all
                select p.counted_by, p.grouping, c.site_id, p.unit, p.day, k.changed_on, {Each("c.#")}
                  from count_changes c
                 cross join lateral (values {Places()}) p (counted_by, grouping, unit, day)
                 cross join lateral (values (null::date), (c.changed_on)) k (changed_on);
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql("drop view all_screen_counts");
            // What was late is counted anew by the first fold, with everything else (KeepCountsCurrent).
            migrationBuilder.Sql("delete from screen_counts");
            migrationBuilder.Sql("delete from count_changes");
            migrationBuilder.Sql("delete from status_counts where whole_month");

            migrationBuilder.DropIndex(
                name: "ix_status_counts_whole_month_counted_born_on_site_id",
                table: "status_counts");

            migrationBuilder.DropColumn(
                name: "whole_month",
                table: "status_counts");

            migrationBuilder.AddColumn<int>(
                name: "late",
                table: "screen_counts",
                type: "integer",
                nullable: false,
                defaultValue: 0);

            migrationBuilder.AddColumn<int>(
                name: "late",
                table: "count_changes",
                type: "integer",
                nullable: false,
                defaultValue: 0);

            migrationBuilder.CreateIndex(
                name: "ix_status_counts_counted_born_on_site_id",
                table: "status_counts",
                columns: new[] { "counted", "born_on", "site_id" });
        }
    }
}
