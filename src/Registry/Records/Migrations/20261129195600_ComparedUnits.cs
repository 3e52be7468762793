using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class ComparedUnits : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "compared_units",
                columns: table => new
                {
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    kind = table.Column<string>(type: "text", nullable: false),
                    name = table.Column<string>(type: "text", nullable: false),
                    measure = table.Column<string>(type: "text", nullable: false),
                    as_of = table.Column<DateOnly>(type: "date", nullable: false),
                    first_day = table.Column<DateOnly>(type: "date", nullable: false),
                    policy_version = table.Column<string>(type: "text", nullable: false),
                    model_version = table.Column<int>(type: "integer", nullable: false),
                    model_from = table.Column<DateOnly>(type: "date", nullable: false),
                    model_through = table.Column<DateOnly>(type: "date", nullable: false),
                    trials = table.Column<int>(type: "integer", nullable: false),
                    observed = table.Column<int>(type: "integer", nullable: false),
                    expected = table.Column<double>(type: "double precision", nullable: false),
                    standardized = table.Column<double>(type: "double precision", nullable: true),
                    too_many = table.Column<double>(type: "double precision", nullable: false),
                    adjusted_p = table.Column<double>(type: "double precision", nullable: false),
                    multiplicative = table.Column<double>(type: "double precision", nullable: false),
                    additive = table.Column<double>(type: "double precision", nullable: false),
                    shrunken = table.Column<double>(type: "double precision", nullable: false),
                    shrunken_least = table.Column<double>(type: "double precision", nullable: true),
                    shrunken_most = table.Column<double>(type: "double precision", nullable: true),
                    far_above = table.Column<double>(type: "double precision", nullable: true),
                    rank_first = table.Column<int>(type: "integer", nullable: true),
                    rank_last = table.Column<int>(type: "integer", nullable: true),
                    units = table.Column<int>(type: "integer", nullable: false),
                    all_trials = table.Column<int>(type: "integer", nullable: false),
                    all_observed = table.Column<int>(type: "integer", nullable: false),
                    phi = table.Column<double>(type: "double precision", nullable: false),
                    tau_squared = table.Column<double>(type: "double precision", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_compared_units", x => new { x.site_id, x.kind, x.measure, x.name });
                    table.ForeignKey(
                        name: "fk_compared_units_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_compared_units_kind_measure",
                table: "compared_units",
                columns: new[] { "kind", "measure" });
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "compared_units");
        }
    }
}
