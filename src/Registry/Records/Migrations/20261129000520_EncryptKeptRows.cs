using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class EncryptKeptRows : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<bool>(
                name: "amends",
                table: "held_rows",
                type: "boolean",
                nullable: false,
                defaultValue: false);

            // What a waiting row says of itself, while the database can still read it; also where its history keeps it.
            migrationBuilder.Sql("""
                update held_rows h set amends = true from submission_rows r
                 where r.submission_id = h.submission_id and r.row_number = h.row_number
                   and lower(r.content ->> 'action') in ('correct', 'retract');
                alter table row_changes disable trigger user;
                update row_changes set before = jsonb_set(before, '{held,amends}',
                    to_jsonb(coalesce(lower(before -> 'row' -> 'content' ->> 'action') in ('correct', 'retract'), false)))
                 where jsonb_typeof(before -> 'held') = 'object';
                alter table row_changes enable trigger user;
                drop index ix_row_changes_content_before;
                """);

            migrationBuilder.DropIndex(
                name: "ix_submission_rows_content",
                table: "submission_rows");

            migrationBuilder.AlterColumn<string>(
                name: "content",
                table: "submission_rows",
                type: "text",
                nullable: true,
                oldClrType: typeof(string),
                oldType: "jsonb",
                oldNullable: true);

            migrationBuilder.AddColumn<string>(
                name: "content_key",
                table: "submission_rows",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string[]>(
                name: "identifier_keys",
                table: "submission_rows",
                type: "text[]",
                nullable: true);

            migrationBuilder.CreateIndex(
                name: "ix_submission_rows_content_key",
                table: "submission_rows",
                column: "content_key",
                filter: "content_key is not null")
                .Annotation("Npgsql:IndexMethod", "hash");

            migrationBuilder.CreateIndex(
                name: "ix_submission_rows_identifier_keys",
                table: "submission_rows",
                column: "identifier_keys",
                filter: "identifier_keys is not null")
                .Annotation("Npgsql:IndexMethod", "gin");

            migrationBuilder.Sql(
                "create index ix_row_changes_content_key_before on row_changes using hash ((before -> 'row' ->> 'content_key'))");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_submission_rows_content_key",
                table: "submission_rows");

            migrationBuilder.DropIndex(
                name: "ix_submission_rows_identifier_keys",
                table: "submission_rows");

            migrationBuilder.DropColumn(
                name: "content_key",
                table: "submission_rows");

            migrationBuilder.DropColumn(
                name: "identifier_keys",
                table: "submission_rows");

            migrationBuilder.DropColumn(
                name: "amends",
                table: "held_rows");

            // What is encrypted stays so, as a text.
            migrationBuilder.Sql("""
                alter table submission_rows alter column content type jsonb
                  using case when content like 'enc:%' then to_jsonb(content) else content::jsonb end;
                drop index ix_row_changes_content_key_before;
                create index ix_row_changes_content_before on row_changes using hash ((before -> 'row' -> 'content'));
                """);

            migrationBuilder.CreateIndex(
                name: "ix_submission_rows_content",
                table: "submission_rows",
                column: "content",
                filter: "content is not null")
                .Annotation("Npgsql:IndexMethod", "hash");
        }
    }
}
