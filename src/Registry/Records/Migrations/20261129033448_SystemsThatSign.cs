using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class SystemsThatSign : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AlterColumn<byte[]>(
                name: "sha256",
                table: "site_keys",
                type: "bytea",
                nullable: true,
                oldClrType: typeof(byte[]),
                oldType: "bytea");

            migrationBuilder.AddColumn<string[]>(
                name: "certificates",
                table: "site_keys",
                type: "text[]",
                nullable: false,
                defaultValueSql: "'{}'");

            migrationBuilder.AddColumn<string>(
                name: "public_keys",
                table: "site_keys",
                type: "text",
                nullable: true);

            migrationBuilder.CreateTable(
                name: "key_tokens",
                columns: table => new
                {
                    id = table.Column<Guid>(type: "uuid", nullable: false),
                    site_key_id = table.Column<Guid>(type: "uuid", nullable: false),
                    assertion_sha256 = table.Column<byte[]>(type: "bytea", nullable: false),
                    token_sha256 = table.Column<byte[]>(type: "bytea", nullable: true),
                    scope = table.Column<string>(type: "text", nullable: true),
                    issued_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false),
                    ends_at = table.Column<DateTimeOffset>(type: "timestamp with time zone", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_key_tokens", x => x.id);
                    table.ForeignKey(
                        name: "fk_key_tokens_site_keys_site_key_id",
                        column: x => x.site_key_id,
                        principalTable: "site_keys",
                        principalColumn: "id",
                        onDelete: ReferentialAction.Restrict);
                });

            migrationBuilder.AddCheckConstraint(
                name: "site_keys_one_proof",
                table: "site_keys",
                sql: "(sha256 is null) = (public_keys is not null)");

            migrationBuilder.CreateIndex(
                name: "ix_key_tokens_site_key_id_assertion_sha256",
                table: "key_tokens",
                columns: new[] { "site_key_id", "assertion_sha256" },
                unique: true);

            migrationBuilder.CreateIndex(
                name: "ix_key_tokens_token_sha256",
                table: "key_tokens",
                column: "token_sha256",
                unique: true);
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropTable(
                name: "key_tokens");

            migrationBuilder.DropCheckConstraint(
                name: "site_keys_one_proof",
                table: "site_keys");

            migrationBuilder.DropColumn(
                name: "certificates",
                table: "site_keys");

            migrationBuilder.DropColumn(
                name: "public_keys",
                table: "site_keys");

            // A system that signs has no secret: it keeps its row, and opens nothing.
            migrationBuilder.Sql("update site_keys set sha256 = sha256(convert_to(id::text, 'UTF8')), "
                + "revoked_at = coalesce(revoked_at, now()) where sha256 is null");
            migrationBuilder.AlterColumn<byte[]>(
                name: "sha256",
                table: "site_keys",
                type: "bytea",
                nullable: false,
                oldClrType: typeof(byte[]),
                oldType: "bytea",
                oldNullable: true);
        }
    }
}
