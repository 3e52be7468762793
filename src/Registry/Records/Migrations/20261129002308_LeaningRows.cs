using Microsoft.EntityFrameworkCore.Migrations;

#nullable disable

namespace Registry.Records.Migrations
{
    /// <inheritdoc />
    public partial class LeaningRows : Migration
    {
        /// <inheritdoc />
        protected override void Up(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.AddColumn<string>(
                name: "leans_on",
                table: "held_rows",
                type: "text",
                nullable: true);

            migrationBuilder.AddColumn<string>(
                name: "residence_state",
                table: "births",
                type: "text",
                nullable: true);

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_birth_date_mother_born_on1",
                table: "held_rows",
                columns: new[] { "birth_date", "mother_born_on" },
                filter: "leans_on is not null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_birth_date_mother_family_key1",
                table: "held_rows",
                columns: new[] { "birth_date", "mother_family_key" },
                filter: "leans_on is not null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_card_id1",
                table: "held_rows",
                column: "card_id",
                filter: "leans_on is not null");

            migrationBuilder.CreateIndex(
                name: "ix_held_rows_infant_id1",
                table: "held_rows",
                column: "infant_id",
                filter: "leans_on is not null");
        }

        /// <inheritdoc />
        protected override void Down(MigrationBuilder migrationBuilder)
        {
            migrationBuilder.DropIndex(
                name: "ix_held_rows_birth_date_mother_born_on1",
                table: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_birth_date_mother_family_key1",
                table: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_card_id1",
                table: "held_rows");

            migrationBuilder.DropIndex(
                name: "ix_held_rows_infant_id1",
                table: "held_rows");

            migrationBuilder.DropColumn(
                name: "leans_on",
                table: "held_rows");

            migrationBuilder.DropColumn(
                name: "residence_state",
                table: "births");
        }
    }
}
