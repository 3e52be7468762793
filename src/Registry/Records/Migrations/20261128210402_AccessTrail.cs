using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class AccessTrail : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<string>(
                name: "address",
                table: "access_records",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "filter",
                table: "access_records",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "handler",
                table: "access_records",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<byte[]>(
                name: "hash",
                table: "access_records",
                type: "bytea",
                nullable: true);

            migrationBuilder.AddColumn<Guid[]>(
                name: "infants",
                table: "access_records",
                type: "uuid[]",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "kind",
                table: "access_records",
                type: "text",
                nullable: false,
                defaultValue: "");

            migrationBuilder.AddColumn<string>(
                name: "note",
                table: "access_records",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<Guid>(
                name: "subject_id",
                table: "access_records",
                type: "uuid",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "trail_digests",
                columns: table => new
                {
                    day = table.Column<DateOnly>(type: "date", nullable: false),
                    last_id = table.Column<long>(type: "bigint", nullable: false),
                    entries = table.Column<int>(type: "integer", nullable: false),
                    hash = table.Column<byte[]>(type: "bytea", nullable: false),
                    written_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_trail_digests", x => x.day);
                });

            migrationBuilder.CreateIndex(
                name: "ix_access_records_infants",
                table: "access_records",
                column: "infants")
                .Annotation("Npgsql:IndexMethod", "gin");

            migrationBuilder.CreateIndex(
                name: "ix_access_records_kind_id",
                table: "access_records",
                columns: new[] { "kind", "id" });

            migrationBuilder.Sql(Registry.Platform.EmbeddedSql.Of<RegistryDb>("Guards.Trail"));
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql("""
                drop trigger people_keep_change on people;
                drop function keep_person_change();
                drop table person_changes;
                drop trigger infants_append_only on infants;
                """);

            migrationBuilder.DropTable(
                name: "trail_digests");

            migrationBuilder.DropIndex(
                name: "ix_access_records_infants",
                table: "access_records");

            migrationBuilder.DropIndex(
                name: "ix_access_records_kind_id",
                table: "access_records");

            migrationBuilder.DropColumn(
                name: "address",
                table: "access_records");

            migrationBuilder.DropColumn(
                name: "filter",
                table: "access_records");

            migrationBuilder.DropColumn(
                name: "handler",
                table: "access_records");

            migrationBuilder.DropColumn(
                name: "hash",
                table: "access_records");

            migrationBuilder.DropColumn(
                name: "infants",
                table: "access_records");

            migrationBuilder.DropColumn(
                name: "kind",
                table: "access_records");

            migrationBuilder.DropColumn(
                name: "note",
                table: "access_records");

            migrationBuilder.DropColumn(
                name: "subject_id",
                table: "access_records");
        }
    }
}
