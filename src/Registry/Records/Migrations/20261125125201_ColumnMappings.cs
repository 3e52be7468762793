using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class ColumnMappings : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<string>(
                name: "encoding",
                table: "submissions",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<bool>(
                name: "gzip",
                table: "submissions",
                type: "boolean",
                nullable: false,
                defaultValue: false);

            migrationBuilder.AddColumn<Guid>(
                name: "mapping_version_id",
                table: "submissions",
                type: "uuid",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "sheet",
                table: "submissions",
                type: "text",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "column_mapping_versions",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    mapping_id = table.Column<Guid>(type: "uuid", nullable: false),
                    version = table.Column<int>(type: "integer", nullable: false),
                    site_id = table.Column<Guid>(type: "uuid", nullable: false),
                    name = table.Column<string>(type: "text", nullable: false),
                    header_sha256 = table.Column<byte[]>(type: "bytea", nullable: false),
                    document = table.Column<string>(type: "jsonb", nullable: false),
                    retired = table.Column<bool>(type: "boolean", nullable: false),
                    created_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    created_by = table.Column<Guid>(type: "uuid", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_column_mapping_versions", x => x.id);
                    table.ForeignKey(
                        name: "fk_column_mapping_versions_sites_site_id",
                        column: x => x.site_id,
                        principalTable: "sites",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.CreateIndex(
                name: "ix_submissions_mapping_version_id",
                table: "submissions",
                column: "mapping_version_id");

            migrationBuilder.CreateIndex(
                name: "ix_column_mapping_versions_mapping_id_version",
                table: "column_mapping_versions",
                columns: new[] { "mapping_id", "version" },
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_column_mapping_versions_site_id",
                table: "column_mapping_versions",
                column: "site_id");

            migrationBuilder.AddForeignKey(
                name: "fk_submissions_column_mapping_versions_mapping_version_id",
                table: "submissions",
                column: "mapping_version_id",
                principalTable: "column_mapping_versions",
                principalColumn: "id",
                onDelete: ReferentialAction.Restrict);

            // A submission names the version it was read with: versions are only ever added.
            migrationBuilder.Sql("""
                create trigger column_mapping_versions_append_only before update or delete or truncate on column_mapping_versions
                  for each statement execute function refuse_change();
                """);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropForeignKey(
                name: "fk_submissions_column_mapping_versions_mapping_version_id",
                table: "submissions");

            migrationBuilder.DropTable(
                name: "column_mapping_versions");

            migrationBuilder.DropIndex(
                name: "ix_submissions_mapping_version_id",
                table: "submissions");

            migrationBuilder.DropColumn(
                name: "encoding",
                table: "submissions");

            migrationBuilder.DropColumn(
                name: "gzip",
                table: "submissions");

            migrationBuilder.DropColumn(
                name: "mapping_version_id",
                table: "submissions");

            migrationBuilder.DropColumn(
                name: "sheet",
                table: "submissions");
        }
    }
}
