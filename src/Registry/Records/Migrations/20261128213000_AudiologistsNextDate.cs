using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class AudiologistsNextDate : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<DateOnly>(
                name: "next_on",
                table: "diagnoses",
                type: "date",
                nullable: true);

            // Statuses were derived by rules that have changed: the next sweep derives every one again, and those of other days when asked.
            migrationBuilder.Sql("update infant_status set next_change_on = as_of; delete from infant_status_snapshot; delete from status_snapshots");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropColumn(
                name: "next_on",
                table: "diagnoses");
        }
    }
}
