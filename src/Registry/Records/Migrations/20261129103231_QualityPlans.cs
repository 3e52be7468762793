using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class QualityPlans : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "quality_plans",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    watched_from = table.Column<DateOnly>(type: "date", nullable: false),
                    policy_version = table.Column<string>(type: "text", nullable: false),
                    made_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    infants = table.Column<int>(type: "integer", nullable: false),
                    document = table.Column<string>(type: "jsonb", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_quality_plans", x => x.id);
                });

            migrationBuilder.CreateIndex(
                name: "ix_quality_plans_watched_from_policy_version_made_at",
                table: "quality_plans",
                columns: new[] { "watched_from", "policy_version", "made_at" });
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            // Who reads which rows is stated anew by whatever migrates next (Access/GrantRights.sql); until then it keeps older tables from
            // being dropped.
            migrationBuilder.Sql("""
                do $$
                declare p record;
                begin
                  for p in select policyname, tablename from pg_policies where schemaname = 'public' loop
                    execute format('drop policy %I on %I', p.policyname, p.tablename);
                  end loop;
                end $$
                """);

            migrationBuilder.DropTable(
                name: "quality_plans");
        }
    }
}
