using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class WorkCountsAndViews : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropPrimaryKey(
                name: "pk_default_views",
                table: "default_views");

            migrationBuilder.AddColumn<string>(
                name: "list",
                table: "saved_views",
                type: "text",
                nullable: false,
                defaultValue: "work");

            migrationBuilder.AddColumn<string>(
                name: "county_key",
                table: "infant_work",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "list",
                table: "default_views",
                type: "text",
                nullable: false,
                defaultValue: "work");

            migrationBuilder.AddPrimaryKey(
                name: "pk_default_views",
                table: "default_views",
                columns: new[] { "person_id", "list" });

            migrationBuilder.CreateTable(
                name: "work_counts",
                columns: table => new
                {
                    responsible_site_id = table.Column<Guid>(type: "uuid", nullable: true),
                    county_key = table.Column<string>(type: "text", nullable: true),
                    tray = table.Column<string>(type: "text", nullable: false),
                    step = table.Column<string>(type: "text", nullable: false),
                    infants = table.Column<int>(type: "integer", nullable: false)
                },
                constraints: table =>
                {
                });

            migrationBuilder.CreateIndex(
                name: "ix_infant_work_county_key_tray_rank_infant_id",
                table: "infant_work",
                columns: new[] { "county_key", "tray", "rank", "infant_id" });

            migrationBuilder.CreateIndex(
                name: "ix_work_counts_county_key",
                table: "work_counts",
                column: "county_key");

            migrationBuilder.CreateIndex(
                name: "ix_work_counts_responsible_site_id_county_key",
                table: "work_counts",
                columns: new[] { "responsible_site_id", "county_key" });

            migrationBuilder.Sql(
                """
                update infant_work w set county_key = s.shown_to
                  from infant_shown s where s.infant_id = w.infant_id and s.shown_to like 'county:%';
                insert into work_counts (responsible_site_id, county_key, tray, step, infants)
                select responsible_site_id, county_key, tray, step, count(*)
                  from infant_work
                 group by tray, step, grouping sets ((responsible_site_id), (county_key), ())
                having grouping(county_key) = 1 or county_key is not null;
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "work_counts");

            migrationBuilder.Sql("delete from saved_views where list <> 'work'");

            migrationBuilder.DropIndex(
                name: "ix_infant_work_county_key_tray_rank_infant_id",
                table: "infant_work");

            migrationBuilder.DropPrimaryKey(
                name: "pk_default_views",
                table: "default_views");

            migrationBuilder.DropColumn(
                name: "list",
                table: "saved_views");

            // The row security that names it goes too; migrate makes it anew.
            migrationBuilder.Sql("alter table infant_work drop column county_key cascade");

            migrationBuilder.DropColumn(
                name: "list",
                table: "default_views");

            migrationBuilder.AddPrimaryKey(
                name: "pk_default_views",
                table: "default_views",
                column: "person_id");
        }
    }
}
