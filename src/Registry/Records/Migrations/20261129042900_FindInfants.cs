using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class FindInfants : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.CreateTable(
                name: "infant_words",
                columns: table => new
                {
                    infant_id = table.Column<Guid>(type: "uuid", nullable: false),
                    word = table.Column<string>(type: "text", nullable: false),
                    born_on = table.Column<DateOnly>(type: "date", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_infant_words", x => new { x.infant_id, x.word });
                });

            migrationBuilder.CreateTable(
                name: "search_words",
                columns: table => new
                {
                    word = table.Column<string>(type: "text", nullable: false, collation: "C"),
                    sound = table.Column<string>(type: "text", nullable: true),
                    variants = table.Column<string[]>(type: "text[]", nullable: false)
                },
                constraints: table =>
                {
                    table.PrimaryKey("pk_search_words", x => x.word);
                });

            migrationBuilder.DropIndex(
                name: "ix_infant_status_birth_site_id",
                table: "infant_status");

            migrationBuilder.CreateIndex(
                name: "ix_infant_status_birth_site_id_born_on",
                table: "infant_status",
                columns: new[] { "birth_site_id", "born_on" });

            migrationBuilder.CreateIndex(
                name: "ix_infant_identifiers_record_number",
                table: "infant_identifiers",
                column: "value",
                filter: "superseded_at is null and kind = 'record_number'");

            migrationBuilder.CreateIndex(
                name: "ix_infant_words_word_born_on_infant_id",
                table: "infant_words",
                columns: new[] { "word", "born_on", "infant_id" });

            migrationBuilder.CreateIndex(
                name: "ix_search_words_sound",
                table: "search_words",
                column: "sound",
                filter: "sound is not null");

            migrationBuilder.Sql(Registry.Platform.EmbeddedSql.Of<RegistryDb>("SearchWords"));
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql("""
                drop function keep_infant_words cascade;
                drop function forget_words cascade;
                """);

            migrationBuilder.DropTable(
                name: "infant_words");

            migrationBuilder.DropTable(
                name: "search_words");

            migrationBuilder.DropIndex(
                name: "ix_infant_identifiers_record_number",
                table: "infant_identifiers");

            migrationBuilder.DropIndex(
                name: "ix_infant_status_birth_site_id_born_on",
                table: "infant_status");

            migrationBuilder.CreateIndex(
                name: "ix_infant_status_birth_site_id",
                table: "infant_status",
                column: "birth_site_id");

            migrationBuilder.Sql("""
                drop function search_words_of;
                drop function word_variants;
                drop function word_sound;
                """);
        }
    }
}
