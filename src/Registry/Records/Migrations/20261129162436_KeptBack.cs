using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class KeptBack : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "kept_back",
                columns: table => new
                {
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    as_of = table.Column<DateOnly>(type: "date", nullable: false),
                    tests = table.Column<int>(type: "integer", nullable: false),
                    passed_by = table.Column<int>(type: "integer", nullable: false),
                    in_bursts = table.Column<int>(type: "integer", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_kept_back", x => x.site_id);
                    table.ForeignKey(
                        name: "fk_kept_back_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "kept_back");
        }
    }
}
