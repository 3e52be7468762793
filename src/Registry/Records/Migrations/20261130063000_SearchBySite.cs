using System;
using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class SearchBySite : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            // Derived: filled anew below.
            migrationBuilder.Sql("truncate infant_words;");

            migrationBuilder.DropPrimaryKey(
                name: "pk_infant_words",
                table: "infant_words");

            migrationBuilder.DropIndex(
                name: "ix_infant_words_word_born_on_infant_id",
                table: "infant_words");

            migrationBuilder.AddColumn<Guid>(
                name: "site_id",
                table: "infant_words",
                type: "uuid",
                nullable: false);

            migrationBuilder.AddColumn<string>(
                name: "county_key",
                table: "infant_words",
                type: "text",
                nullable: true);

            migrationBuilder.AddPrimaryKey(
                name: "pk_infant_words",
                table: "infant_words",
                columns: new[] { "infant_id", "site_id", "word" });

            migrationBuilder.CreateIndex(
                name: "ix_infant_words_word_born_on_infant_id_site_id",
                table: "infant_words",
                columns: new[] { "word", "born_on", "infant_id", "site_id" })
                .Annotation("Npgsql:IndexInclude", new[] { "county_key" });

            migrationBuilder.Sql(Registry.Platform.EmbeddedSql.Of<RegistryDb>("SearchBySite"));
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.Sql("""
                drop function keep_words_of_sites cascade;
                drop function keep_infant_words cascade;
                drop policy if exists seen_by_site on infant_words;
                drop policy if exists seen_by_keys on infant_words;
                drop view if exists infants_one_by_one;
                drop function forget_words cascade;
                drop function search_words_of;
                drop function word_variants;
                drop function word_sound;
                drop index ix_search_words_variants;
                truncate infant_words, search_words;
                """);

            migrationBuilder.DropPrimaryKey(
                name: "pk_infant_words",
                table: "infant_words");

            migrationBuilder.DropIndex(
                name: "ix_infant_words_word_born_on_infant_id_site_id",
                table: "infant_words");

            migrationBuilder.DropColumn(
                name: "site_id",
                table: "infant_words");

            migrationBuilder.DropColumn(
                name: "county_key",
                table: "infant_words");

            migrationBuilder.AddPrimaryKey(
                name: "pk_infant_words",
                table: "infant_words",
                columns: new[] { "infant_id", "word" });

            migrationBuilder.CreateIndex(
                name: "ix_infant_words_word_born_on_infant_id",
                table: "infant_words",
                columns: new[] { "word", "born_on", "infant_id" });

            migrationBuilder.Sql(Registry.Platform.EmbeddedSql.Of<RegistryDb>("SearchWords"));
        }
    }
}
