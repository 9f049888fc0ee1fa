using System.Text;
using MeshTrace.Analysis.Description;
using MeshTrace.Captures.Live;
using MeshTrace.Captures.Udp;

namespace MeshTrace.Commands;

/// <summary>What is said of interfaces.</summary>
internal static class InterfaceWords
{
    private const int LongestWords = 600;

    /// <summary>Writes which interfaces there are, a line each: name, link type, what they are good for.</summary>
    /// <exception cref="UserErrorException">They cannot be listed.</exception>
    public static int List(Surroundings surroundings)
    {
        try
        {
            IReadOnlyList<InterfaceDescription> all = LiveInterface.List();
            foreach (InterfaceDescription one in all)
                surroundings.Output.Write(Encoding.UTF8.GetBytes($"{SafeText.Strip(one.Name)}: {SafeText.Strip(Says(one), LongestWords)}\n"));
            if (all.Count == 0)
                surroundings.Error.WriteLine("meshtrace: this machine tells of no interface; this program may need more rights to see them.");
            return ExitCode.Fine;
        }
        catch (CaptureLiveException problem)
        {
            throw Refused(problem);
        }
    }

    public static UserErrorException Refused(CaptureLiveException problem) =>
        new(ExitCode.Unreadable, SafeText.Strip(problem.Message, LongestWords), SafeText.Strip(problem.Remedy, LongestWords), problem);

    private static string Says(InterfaceDescription one) => one.LinkType switch
    {
        null => $"cannot be opened: {one.Problem}",
        { } type when LiveInterface.LinkTypes.Contains(type) => $"link type {type}, Bluetooth frames: suitable",
        { } type when UdpEncapsulation.IsCarrier(type) => $"link type {type}, an IP network: suitable with --udp-port and --udp-link-type, where receivers send in UDP",
        { } type => $"link type {type}: not suitable",
    };
}
