var app = Microsoft.AspNetCore.Builder.WebApplication.Create(args); app.Run();
